// Each yard's name goes to the side of its mark where it covers least; again after each zoom.
(function () {
  var SIDES = ["below", "above", "right", "left"];
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
  }
  map.on("zoomend moveend overlayadd overlayremove resize", arrange);
  arrange();
})();
