"use strict";
(() => {
  const KEPT = "swarmwatch-notes-1";
  const at = (id) => document.getElementById(id);
  const forms = [...document.querySelectorAll("form.notes")];
  const whose = at("whose"), day = at("day"), visit = at("visit");

  // a cell that begins so is run by a spreadsheet; the import takes the quote off again
  const RUNS = ["=", "+", "-", "@", "'"];

  const works = () => {
    try {
      localStorage.setItem(`${KEPT}-try`, "1");
      const kept = localStorage.getItem(`${KEPT}-try`) === "1";
      localStorage.removeItem(`${KEPT}-try`);
      return kept;
    } catch {
      return false;
    }
  };
  // notes that the phone would not keep: they live until the page closes
  let unkept = null;
  const read = () => {
    if (unkept) return unkept;
    try {
      const found = JSON.parse(localStorage.getItem(KEPT) || "[]");
      return Array.isArray(found) ? found : [];
    } catch {
      return [];
    }
  };
  const keep = (notes) => {
    try {
      localStorage.setItem(KEPT, JSON.stringify(notes));
      unkept = null;
    } catch {
      unkept = notes;
    }
    return !unkept;
  };

  const chosen = () => whose.selectedOptions[0];
  const current = () => forms.find((f) => f.id === `form-${chosen().dataset.form}`);
  const keyNow = () =>
    current().dataset.table === "checks"
      ? { box: whose.value, date: day.value }
      : { colony: whose.value, date: day.value, visit: visit.value };
  const same = (a, b) => JSON.stringify(a) === JSON.stringify(b);
  const nameOf = (note) => note.key.colony || note.key.box;
  const fieldsOf = (form) => [...form.elements].filter((e) => e.name);

  const cellsOf = (form) => {
    const cells = {};
    for (const field of fieldsOf(form)) {
      if (field.type === "radio" && !field.checked) continue;
      const value = field.value.trim();
      if (value) cells[field.name] = value;
    }
    return cells;
  };
  const point = (value) => value.replace(/^([^,]*),([^,]*)$/, "$1.$2");
  const isNumber = (field) =>
    !field.value.trim() ||
    (field.dataset.kind === "count" ? /^\d+$/ : /^\d+(\.\d+)?$/).test(point(field.value.trim()));
  const judge = (form) => {
    let bad = 0;
    for (const field of fieldsOf(form).filter((f) => f.dataset.kind)) {
      const right = isNumber(field);
      field.setAttribute("aria-invalid", String(!right));
      field.parentElement.classList.toggle("bad", !right);
      bad += right ? 0 : 1;
    }
    return bad;
  };
  const fill = (form, cells) => {
    for (const field of fieldsOf(form)) {
      const value = cells[field.name] || "";
      if (field.type === "radio") field.checked = field.value === value;
      else field.value = value;
    }
    judge(form);
  };
  const tell = (text) => { at("kept").textContent = text; };

  const show = () => {
    const form = whose.value ? current() : null;
    const ready = Boolean(form && day.value && Number(visit.value) >= 1);
    for (const f of forms) f.hidden = !(ready && f === form);
    at("visit-field").hidden = Boolean(form && form.dataset.table === "checks");
    if (!ready) return tell("Choose a colony or a box and a day.");
    const note = read().find((n) => n.table === form.dataset.table && same(n.key, keyNow()));
    fill(form, note ? note.cells : {});
    tell(note ? `${whose.value}, ${day.value}: this is what you noted.` : `${whose.value}, ${day.value}: nothing noted yet.`);
  };

  const save = () => {
    const form = current();
    const table = form.dataset.table, key = keyNow(), cells = cellsOf(form);
    // read anew: another window may have noted something
    const others = read().filter((n) => !(n.table === table && same(n.key, key)));
    const kept = keep(Object.keys(cells).length ? [...others, { table, key, cells }] : others);
    const bad = judge(form);
    const when = new Date().toTimeString().slice(0, 5);
    at("no-store").hidden = kept;
    tell(
      kept
        ? `${whose.value}, ${day.value}: kept at ${when}.` +
          (bad ? ` ${bad} field${bad > 1 ? "s hold" : " holds"} no number: mend it, or the import refuses it.` : "")
        : "Not kept: this phone's memory is full or closed. Write it on paper.",
    );
    list();
  };

  const list = () => {
    const notes = read();
    at("noted").replaceChildren(
      ...notes.map((note) => {
        const item = document.createElement("li"), button = document.createElement("button");
        const count = Object.keys(note.cells).length;
        const second = Number(note.key.visit || 1) > 1 ? `, inspection ${note.key.visit}` : "";
        button.type = "button";
        button.className = "button plain";
        button.textContent = `${nameOf(note)}, ${note.key.date}${second}: ${count} thing${count > 1 ? "s" : ""}`;
        button.addEventListener("click", () => reopen(note));
        item.append(button);
        return item;
      }),
    );
    at("nothing").hidden = notes.length > 0;
    at("forget").disabled = !notes.length;
    for (const button of document.querySelectorAll("[data-give]"))
      button.disabled = !notes.some((n) => n.table === button.dataset.give);
  };

  const reopen = (note) => {
    const option = [...whose.options].find(
      (o) => o.value === nameOf(note) && (o.dataset.form === "check") === (note.table === "checks"),
    );
    if (!option) return tell(`${nameOf(note)} is not in this file; its notes are kept and given back all the same.`);
    option.selected = true;
    day.value = note.key.date;
    if (note.key.visit) visit.value = note.key.visit;
    show();
    whose.focus();
  };

  const csv = (table) => {
    const notes = read().filter((n) => n.table === table);
    const form = forms.find((f) => f.dataset.table === table);
    const keys = table === "checks" ? ["box", "date"] : ["colony", "date", "visit"];
    const kinds = {};
    for (const f of forms.filter((x) => x.dataset.table === table))
      for (const field of fieldsOf(f)) kinds[field.name] = field.dataset.kind || field.type;
    const used = Object.keys(kinds).filter((c) => notes.some((n) => c in n.cells));
    const cell = (name, value) => {
      let text = value || "";
      if (kinds[name] === "number" || kinds[name] === "count") text = point(text);
      else if (RUNS.includes(text[0])) text = `'${text}`;
      return /[",\r\n]/.test(text) ? `"${text.replaceAll('"', '""')}"` : text;
    };
    const rows = notes.map((n) =>
      [...keys.map((k) => cell(k, n.key[k])), ...used.map((c) => cell(c, n.cells[c]))].join(","),
    );
    return form ? [[...keys, ...used].join(","), ...rows, ""].join("\r\n") : "";
  };

  const give = (table) => {
    const text = csv(table), link = document.createElement("a");
    link.href = URL.createObjectURL(new Blob([text], { type: "text/csv;charset=utf-8" }));
    link.download = `${table}.csv`;
    link.click();
    setTimeout(() => URL.revokeObjectURL(link.href), 60000);
    const count = read().filter((n) => n.table === table).length;
    at("given").hidden = false;
    at("given-words").textContent = `${table}.csv holds ${count} note${count > 1 ? "s" : ""}. What you noted stays on this phone until you forget it.`;
    at("text").value = text;
  };

  let sure = 0;
  const forget = () => {
    const button = at("forget");
    if (Date.now() - sure > 5000) {
      sure = Date.now();
      button.textContent = `Tap again to forget ${read().length} note${read().length > 1 ? "s" : ""}`;
      setTimeout(() => { button.textContent = "Forget the notes"; }, 5000);
      return;
    }
    sure = 0;
    button.textContent = "Forget the notes";
    keep([]);
    at("given").hidden = true;
    list();
    show();
  };

  for (const part of document.querySelectorAll(".scripted")) part.hidden = false;
  at("untested").hidden = /Chrom(e|ium)\/\d/.test(navigator.userAgent);
  at("no-store").hidden = works();
  const now = new Date();
  const today = [now.getFullYear(), now.getMonth() + 1, now.getDate()].map((n) => String(n).padStart(2, "0")).join("-");
  if (today < document.body.dataset.made) at("bad-clock").hidden = false;
  else day.value = today;
  for (const field of [whose, day, visit]) field.addEventListener("change", show);
  for (const form of forms) {
    form.addEventListener("input", save);
    form.addEventListener("submit", (event) => event.preventDefault());
  }
  for (const button of document.querySelectorAll("[data-give]"))
    button.addEventListener("click", () => give(button.dataset.give));
  at("forget").addEventListener("click", forget);
  list();
  show();
})();
