"use strict";
// An addition: without it everything on the page is shown and can be read.
(() => {
  const cases = [...document.querySelectorAll("div.case")];
  const names = [...new Set(cases.map((section) => section.dataset.case))];
  if (names.length > 1) {
    const label = document.createElement("label");
    const select = document.createElement("select");
    label.textContent = "Show the flight case ";
    for (const name of ["all of them", ...names]) {
      const option = document.createElement("option");
      option.textContent = name;
      option.value = select.options.length;
      select.append(option);
    }
    select.addEventListener("change", () => {
      const chosen = names[select.selectedIndex - 1];
      for (const section of cases) {
        section.classList.toggle("hidden", chosen !== undefined && section.dataset.case !== chosen);
      }
    });
    label.append(select);
    document.getElementById("chooser").append(label);
  }
  // Values under the pointer, read off the drawn lines.
  const along = (points, x) => {
    for (let i = 1; i < points.length; i += 1) {
      const [from, to] = [points[i - 1], points[i]];
      if (from && to && x >= from[0] && x <= to[0] && to[0] > from[0]) {
        return from[1] + ((x - from[0]) / (to[0] - from[0])) * (to[1] - from[1]);
      }
    }
    return NaN;
  };
  const shown = (value) => value.toPrecision(3).replace("-", "\u2212");
  for (const field of document.querySelectorAll("svg.field:not([data-scale]):not([data-places])")) {
    const lines = [...field.querySelectorAll("path.line[data-name]")].map((path) => ({
      name: path.dataset.name,
      points: path.getAttribute("d").split("M").slice(1).flatMap((piece) => [
        null, ...piece.split("L").map((spot) => spot.split(" ").map(Number))]),
    })).reverse();
    if (!lines.length) continue;
    const [x0, x1, left, right] = field.dataset.x.split(" ").map(Number);
    const [y0, y1, bottom, top] = field.dataset.y.split(" ").map(Number);
    const readout = document.createElement("p");
    readout.className = "readout";
    field.after(readout);
    field.addEventListener("pointermove", (event) => {
      const box = field.getBoundingClientRect();
      const x = ((event.clientX - box.left) / box.width) * field.viewBox.baseVal.width;
      const said = lines.map(({ name, points }) => [name, along(points, x)])
        .filter(([, y]) => Number.isFinite(y) && y >= top)
        .map(([name, y]) => `${name} ${shown(y0 + ((bottom - y) / (bottom - top)) * (y1 - y0))}`);
      readout.textContent = said.length
        ? `at ${shown(x0 + ((x - left) / (right - left)) * (x1 - x0))}: ${said.join("; ")}` : "";
    });
    field.addEventListener("pointerleave", () => { readout.textContent = ""; });
  }
})();
