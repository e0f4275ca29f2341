"use strict";
(() => {
  const twin = document.querySelector(".twin");
  if (!twin) return;
  const svg = twin.querySelector("svg");
  const entries = [...twin.querySelectorAll(".entry")];
  const colours = ["--thread", "--thread-2", "--thread-3", "--thread-4"];
  const middle = (box, top) => box.top - top + Math.min(18, box.height / 2);

  // Where an entry would like to stand: beside the speech that tells it.
  const wish = (entry, top) => {
    const link = entry.querySelector("a[data-to]");
    const block = link && document.getElementById(link.dataset.to);
    return block ? block.getBoundingClientRect().top - top : null;
  };

  // The log keeps its own order: neighbours that wish to cross share the mean of their wishes.
  const place = () => {
    entries.forEach((entry) => { entry.style.marginTop = ""; });
    const top = twin.getBoundingClientRect().top;
    const boxes = entries.map((e) => e.getBoundingClientRect());
    let drift = 0;
    const pools = [];
    entries.forEach((entry, i) => {
      const wanted = wish(entry, top);
      if (wanted === null) return;
      pools.push({ sum: wanted - (boxes[i].top - top), count: 1, members: [i] });
      while (pools.length > 1 && mean(pools[pools.length - 2]) > mean(pools[pools.length - 1])) {
        const late = pools.pop(), early = pools[pools.length - 1];
        early.sum += late.sum; early.count += late.count; early.members.push(...late.members);
      }
    });
    pools.forEach((pool) => {
      const shift = Math.max(0, mean(pool) - drift);
      if (!shift) return;
      entries[pool.members[0]].style.marginTop = `${shift}px`;
      drift += shift;
    });
  };
  const mean = (pool) => pool.sum / pool.count;

  const draw = () => {
    svg.replaceChildren();
    if (getComputedStyle(svg).display === "none") return;
    const frame = twin.getBoundingClientRect();
    entries.forEach((entry, i) => {
      const from = entry.getBoundingClientRect();
      entry.querySelectorAll("a[data-to]").forEach((link, n) => {
        const block = document.getElementById(link.dataset.to);
        if (!block) return;
        const to = block.getBoundingClientRect();
        const x1 = from.right - frame.left + 3, y1 = middle(from, frame.top);
        const x2 = to.left - frame.left - 5, y2 = middle(to, frame.top) - 5;
        const bend = (x2 - x1) * 0.55;
        const path = document.createElementNS("http://www.w3.org/2000/svg", "path");
        path.setAttribute("d", `M${x1} ${y1} C${x1 + bend} ${y1} ${x2 - bend} ${y2} ${x2} ${y2}`);
        path.setAttribute("class", `thread ${link.dataset.surety}${n ? " again" : ""}`);
        path.style.stroke = `var(${colours[i % colours.length]})`;
        path.dataset.entry = entry.id;
        svg.append(path);
      });
    });
  };

  const pick = (id) => {
    twin.classList.toggle("picked", Boolean(id));
    svg.querySelectorAll("path").forEach((p) => p.classList.toggle("on", p.dataset.entry === id));
  };
  entries.forEach((entry) => {
    ["mouseenter", "focusin"].forEach((e) => entry.addEventListener(e, () => pick(entry.id)));
    ["mouseleave", "focusout"].forEach((e) => entry.addEventListener(e, () => pick("")));
  });

  const lay = () => { if (matchMedia("(min-width: 861px)").matches) place(); draw(); };
  let waiting = 0;
  addEventListener("resize", () => { cancelAnimationFrame(waiting); waiting = requestAnimationFrame(lay); });
  addEventListener("load", lay);
  lay();
})();
