// Tables sort by the column whose heading is pressed: numbers by their value, the rest by its letters.
document.querySelectorAll("table.sortable").forEach((table) => {
  const headings = [...table.querySelectorAll("thead th")];
  headings.forEach((heading, column) => heading.querySelector("button").addEventListener("click", () => {
    const down = heading.getAttribute("aria-sort") === "ascending";
    headings.forEach((h) => h.setAttribute("aria-sort", "none"));
    heading.setAttribute("aria-sort", down ? "descending" : "ascending");
    const body = table.tBodies[0];
    const value = (row) => {
      const cell = row.cells[column];
      return cell.dataset.key === undefined ? cell.textContent : Number(cell.dataset.key);
    };
    const order = (a, b) => {
      const [x, y] = [value(a), value(b)];
      if (typeof x === "number" && typeof y === "number") return x - y;
      if (typeof x !== typeof y) return typeof x === "number" ? -1 : 1;
      return x.localeCompare(y);
    };
    [...body.rows].sort((a, b) => (down ? -order(a, b) : order(a, b))).forEach((row) => body.appendChild(row));
  }));
});
