"use strict";
addEventListener("DOMContentLoaded", () => {
  const table = document.getElementById("designs");
  if (table) {
    const body = table.tBodies[0];
    const rows = [...body.rows];
    const heads = [...table.tHead.rows[0].cells];
    const rank = "CMmo?LW·";
    // A mark sorts by how grave it is, a count downwards, a word by the alphabet.
    const key = (row, column) => {
      const cell = row.cells[column];
      if (cell.dataset.order) return -Number(cell.dataset.order);
      const text = cell.textContent.trim();
      if (column < 2) return text.toLowerCase();
      return text ? rank.indexOf(text) : rank.length;
    };
    heads.forEach((head, column) => {
      head.querySelector("button").addEventListener("click", () => {
        const first = head.dataset.turn !== "first";
        heads.forEach((other) => { other.setAttribute("aria-sort", "none"); other.dataset.turn = ""; });
        head.dataset.turn = first ? "first" : "second";
        // Of counts the first click brings the greatest up.
        const counts = rows[0].cells[column].dataset.order !== undefined;
        head.setAttribute("aria-sort", first === counts ? "descending" : "ascending");
        const keys = new Map(rows.map((row) => [row, key(row, column)]));
        const order = [...rows].sort((a, b) => (keys.get(a) < keys.get(b) ? -1 : keys.get(a) > keys.get(b) ? 1 : 0));
        body.append(...(first ? order : order.reverse()));
      });
    });
    const form = document.querySelector("form.filter");
    const names = heads.map((head) => head.textContent.trim());
    const filter = () => {
      const name = form.elements.name.value.trim().toLowerCase();
      const verdict = form.elements.verdict.value;
      const rule = form.elements.rule.value ? names.indexOf(form.elements.rule.value) : -1;
      let shown = 0;
      rows.forEach((row) => {
        const wants = rule < 0 || !["", "·"].includes(row.cells[rule].textContent);
        row.hidden = !(wants && (!verdict || row.dataset.verdict === verdict) && row.cells[0].textContent.toLowerCase().includes(name));
        shown += row.hidden ? 0 : 1;
      });
      form.elements.count.value = `${shown} of ${rows.length} shown`;
    };
    form.addEventListener("input", filter);
    form.addEventListener("submit", (event) => event.preventDefault());
    filter();
  }
  // On paper nothing can be opened.
  const details = [...document.querySelectorAll("details")];
  let opened = [];
  addEventListener("beforeprint", () => {
    opened = details.filter((one) => !one.open);
    opened.forEach((one) => { one.open = true; });
  });
  addEventListener("afterprint", () => opened.forEach((one) => { one.open = false; }));
});
