// Each yard's name goes to the side of its mark where it covers least, and each band of catch share
// is named where that covers nothing; again after each zoom. What a list below says of a circle is
// also read to those who come to it by keyboard.
(function () {
  var SIDES = ["below", "above", "right", "left"], NAMES_A_BAND = 2;
  function shared(a, b) {
    var wide = Math.min(a.right, b.right) - Math.max(a.left, b.left);
    var high = Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top);
    return Math.max(0, wide) * Math.max(0, high);
  }
  function covered(tag, others, frame) {
    var box = tag.getBoundingClientRect();
    var outside = box.width * box.height - shared(box, frame);
    return others.reduce(function (sum, other) { return sum + shared(box, other); }, 2 * outside);
  }
  function arrange() {
    var frame = document.getElementById("map").getBoundingClientRect();
    var marks = document.querySelectorAll("#map .spot, #map .spot ~ .tag, #map .yard, #map .hanging");
    var others = Array.prototype.map.call(marks, function (m) { return m.getBoundingClientRect(); });
    document.querySelectorAll("#map .yard ~ .tag").forEach(function (tag) {
      var best = SIDES[0], least = Infinity;
      SIDES.forEach(function (side) {
        tag.dataset.side = side;
        var cost = covered(tag, others, frame);
        if (cost < least) { least = cost; best = side; }
      });
      tag.dataset.side = best;
      others.push(tag.getBoundingClientRect());
    });
    var named = {};
    document.querySelectorAll("#map .place").forEach(function (place) {
      others.push(place.getBoundingClientRect());
    });
    // the highest band lies closest to the marks and has the fewest places: it chooses first
    Array.from(document.querySelectorAll("#map .share")).sort(function (a, b) {
      return b.dataset.band - a.dataset.band;
    }).forEach(function (name) {
      var band = name.dataset.band, box = name.getBoundingClientRect();
      var shown = (named[band] || 0) < NAMES_A_BAND && covered(name, others, frame) === 0;
      name.style.visibility = shown ? "visible" : "hidden";
      if (shown) { named[band] = (named[band] || 0) + 1; others.push(box); }
    });
  }
  function reachable(layer) {
    var shape = layer instanceof L.CircleMarker && layer.getPopup() && layer.getElement();
    if (!shape || shape.hasAttribute("tabindex")) { return; }
    shape.setAttribute("tabindex", "0");
    shape.setAttribute("role", "button");
    shape.setAttribute("aria-label", layer.getPopup().getContent()().textContent.trim());
    shape.addEventListener("keydown", function (event) {
      if (event.key === "Enter" || event.key === " ") { event.preventDefault(); layer.openPopup(); }
    });
  }
  map.eachLayer(reachable);
  map.on("layeradd", function (event) { reachable(event.layer); });
  map.on("zoomend moveend overlayadd overlayremove resize", arrange);
  arrange();
})();
