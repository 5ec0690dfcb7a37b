// Live charts: each still picture is drawn anew so that its points tell what they stand for and
// lead to their setting. Without this the picture and the table beside it hold the same.
"use strict";
(() => {
  let drawing;
  const ready = () => {
    drawing ??= new Promise((ok, no) => {
      const script = document.createElement("script");
      script.src = "/static/vega.min.js";
      script.onload = () => ok(window.vegaDrawing);
      script.onerror = no;
      document.head.append(script);
    });
    return drawing;
  };
  // A chart holds its own data: nothing is ever fetched for it.
  const loader = {
    load: () => Promise.reject(new Error("nothing is loaded")),
    sanitize: () => Promise.reject(new Error("nothing is linked")),
  };
  const element = (name, className, words) => {
    const made = document.createElement(name);
    made.className = className;
    if (words) made.textContent = words;
    return made;
  };

  function tip(figure) {
    const box = element("div", "tip");
    box.setAttribute("role", "status");
    figure.append(box);
    const hide = () => box.replaceChildren();
    const show = (told, near) => {
      box.replaceChildren(...Object.entries(told).map(([name, words]) => {
        const line = element("p", "");
        line.append(element("span", "", name + ": "), element("b", "", String(words)));
        return line;
      }));
      const room = figure.getBoundingClientRect();
      const left = Math.min(near.right - room.left + 10, room.width - box.offsetWidth);
      box.style.left = Math.max(left, 0) + "px";
      box.style.top = near.bottom - room.top + 10 + "px";
    };
    return { show, hide };
  }

  // The points that tell something, in the order of drawing, each setting once in each panel.
  function pointsOf(plot) {
    const seen = new Set();
    const found = [];
    for (const mark of plot.querySelectorAll("path, rect, circle, text")) {
      const item = mark.__data__;
      if (!item || !item.tooltip || typeof item.tooltip !== "object") continue;
      const box = mark.getBoundingClientRect();
      const key = JSON.stringify([item.tooltip, Math.round(box.left + box.width / 2)]);
      if (seen.has(key)) continue;
      seen.add(key);
      found.push({ item, mark });
    }
    return found;
  }

  function live(figure, plot) {
    const { show, hide } = tip(figure);
    const go = (item) => {
      const address = item && item.datum && item.datum.address;
      if (address) window.location.assign(figure.dataset.base + address);
    };
    const points = pointsOf(plot);
    let at = -1;
    const turn = (to) => {
      if (!points.length) return;
      if (points[at]) points[at].mark.classList.remove("at");
      at = (to + points.length) % points.length;
      const { item, mark } = points[at];
      mark.classList.add("at");
      show(item.tooltip, mark.getBoundingClientRect());
    };
    const leave = () => {
      if (points[at]) points[at].mark.classList.remove("at");
      hide();
    };
    const under = (event) => {
      const item = event.target.__data__;
      return item && item.tooltip && typeof item.tooltip === "object" ? item : null;
    };
    plot.addEventListener("pointermove", (event) => {
      const item = under(event);
      plot.style.cursor = item && item.datum.address ? "pointer" : "";
      if (item) show(item.tooltip, { right: event.clientX, bottom: event.clientY });
      else hide();
    });
    plot.addEventListener("pointerleave", hide);
    plot.addEventListener("click", (event) => go(under(event)));
    plot.addEventListener("blur", leave);
    plot.addEventListener("keydown", (event) => {
      const steps = { ArrowRight: at + 1, ArrowDown: at + 1, ArrowLeft: at - 1, ArrowUp: at - 1, Home: 0, End: -1 };
      if (event.key in steps) turn(Math.max(steps[event.key], -1));
      else if (event.key === "Enter" && points[at]) go(points[at].item);
      else if (event.key === "Escape") leave();
      else return;
      event.preventDefault();
    });
  }

  async function draw(figure) {
    const still = figure.querySelector("img");
    const [answer, vega] = await Promise.all([fetch(figure.dataset.chart), ready()]);
    if (!answer.ok) return;
    const spec = await answer.json();
    await document.fonts.load("15px B612");
    const plot = element("div", "live");
    const inner = element("div", "");
    inner.setAttribute("aria-hidden", "true");
    plot.append(inner);
    const view = new vega.View(vega.parse(spec, {}, { ast: true }), {
      expr: vega.expressionInterpreter, renderer: "svg", container: inner, loader, hover: false,
    });
    view.tooltip(() => {});
    still.after(plot);
    await view.runAsync();
    plot.tabIndex = 0;
    plot.setAttribute("role", "application");
    plot.setAttribute("aria-roledescription", "chart");
    plot.setAttribute("aria-label", still.alt + ". Arrow keys go from point to point, Enter opens the setting.");
    still.hidden = true;
    live(figure, plot);
  }

  const watcher = new IntersectionObserver((seen) => {
    for (const one of seen) {
      if (!one.isIntersecting) continue;
      watcher.unobserve(one.target);
      draw(one.target).catch(() => { /* the still picture stays */ });
    }
  });
  const begin = () => {
    for (const figure of document.querySelectorAll("figure[data-chart]:not([data-begun])")) {
      figure.dataset.begun = "yes";
      watcher.observe(figure);
    }
  };
  document.body.addEventListener("htmx:afterSettle", begin);
  begin();
})();
