// Dropped files: each is sent by itself, one after the other, and measuring begins with the first.
"use strict";
(() => {
  const key = document.body.dataset.formKey;

  const post = (address, body) =>
    fetch(address, { method: "POST", body, headers: { "X-Form-Key": key }, credentials: "same-origin" });

  const say = (zone, words) => { zone.querySelector("[data-drop-says]").textContent = words; };

  async function below(entry, path) {
    if (entry.isFile) {
      const file = await new Promise((ok, no) => entry.file(ok, no));
      return [{ file, name: path + file.name }];
    }
    const reader = entry.createReader();
    const found = [];
    for (;;) {
      const some = await new Promise((ok, no) => reader.readEntries(ok, no));
      if (!some.length) break;
      for (const one of some) if (!one.name.startsWith(".")) found.push(...await below(one, path + entry.name + "/"));
    }
    return found;
  }

  async function dropped(transfer) {
    const entries = [...transfer.items].map((item) => item.webkitGetAsEntry && item.webkitGetAsEntry()).filter(Boolean);
    const found = [];
    for (const entry of entries) found.push(...await below(entry, ""));
    return found;
  }

  const chosen = (input) => [...input.files].map((file) => ({ file, name: file.webkitRelativePath || file.name }));

  async function sendOne(zone, one) {
    for (let tries = 0; ; tries += 1) {
      try {
        const answer = await post(zone.dataset.to + "?name=" + encodeURIComponent(one.name), one.file);
        if ((answer.headers.get("content-type") || "").includes("json")) return await answer.json();
        return { fault: one.name + ": not taken; load this page again, then send it once more" };
      } catch (error) {
        if (tries === 2) return { fault: one.name + ": the connection broke; send it again" };
        await new Promise((go) => setTimeout(go, 1500));
      }
    }
  }

  async function sendAll(zone, files) {
    if (!files.length) return;
    const bar = zone.querySelector("progress");
    bar.hidden = false;
    bar.max = files.length;
    const faults = [];
    let there = 0;
    for (const [k, one] of files.entries()) {
      bar.value = k;
      say(zone, "Sending " + (k + 1) + " of " + files.length + ": " + one.name);
      const said = await sendOne(zone, one);
      if (said.fault) faults.push(said.fault);
      if (said.state === "there already") there += 1;
      if (k === 0 || k === files.length - 1) await begin(zone);
    }
    bar.hidden = true;
    const words = [files.length - faults.length - there + " of " + files.length + " sent."];
    if (there) words.push(there + " were there already.");
    say(zone, words.concat(faults.slice(0, 6)).join(" "));
    if (!faults.length) counted(zone);
  }

  async function begin(zone) {
    if (!zone.dataset.then) return;
    const part = await fetch(zone.dataset.then, {
      method: "POST", headers: { "X-Form-Key": key, "HX-Request": "true" }, credentials: "same-origin",
      body: new URLSearchParams({ form_key: key }),
    });
    const old = document.getElementById("progress");
    if (!old || !part.ok) return;
    const made = new DOMParser().parseFromString(await part.text(), "text/html").getElementById("progress");
    old.replaceWith(made);
    window.htmx.process(made);
  }

  // What a frame tells is put where nothing was typed, each lens into a row of its own.
  async function readGear(zone, files) {
    const faults = [], read = [];
    for (const [k, one] of files.entries()) {
      say(zone, "Reading " + (k + 1) + " of " + files.length + ": " + one.file.name);
      const answer = await post("/new/file?name=" + encodeURIComponent(one.file.name), one.file).catch(() => null);
      if (!answer) { faults.push(one.file.name + ": the connection broke; send it again"); continue; }
      const part = new DOMParser().parseFromString(await answer.text(), "text/html");
      if (!answer.ok) { faults.push((part.querySelector(".fault p") || part.body).textContent.trim()); continue; }
      fillGear(part);
      read.push(one.file.name);
    }
    const words = read.length ? ["Read from " + read.join(", ") + ". Look through it and add what is missing."] : [];
    say(zone, words.concat(faults).join(" "));
  }

  function fillGear(part) {
    const place = document.getElementById("gear");
    const field = (where, name) => where.querySelector('[name="' + name + '"]');
    const put = (name, from) => {
      const ours = field(place, name), theirs = field(part, from || name);
      if (theirs.value && !ours.value) ours.value = theirs.value;
    };
    if (!field(place, "body").value) field(place, "mosaic").value = field(part, "mosaic").value;
    for (const name of ["body", "body_recorded", "width_px", "height_px"]) put(name);
    const lens = field(part, "recorded_0").value || field(part, "lens_0").value;
    if (!lens) return;
    const rows = [...place.querySelectorAll(".fields.lens")].map((_, k) => k);
    if (rows.some((k) => [field(place, "recorded_" + k).value, field(place, "lens_" + k).value].includes(lens))) return;
    const free = rows.find((k) => !field(place, "lens_" + k).value);
    if (free === undefined) return;
    for (const name of ["lens_", "recorded_", "focal_", "f_"]) put(name + free, name + "0");
  }

  for (const zone of document.querySelectorAll("[data-drop]")) {
    const take = zone.dataset.drop === "gear" ? readGear : sendAll;
    zone.addEventListener("dragover", (event) => { event.preventDefault(); zone.classList.add("over"); });
    zone.addEventListener("dragleave", () => zone.classList.remove("over"));
    zone.addEventListener("drop", async (event) => {
      event.preventDefault();
      zone.classList.remove("over");
      take(zone, await dropped(event.dataTransfer));
    });
    for (const input of zone.querySelectorAll("input[type=file]")) {
      input.addEventListener("change", () => take(zone, chosen(input)));
    }
  }

  // What was opened stays open when the ranking is asked otherwise.
  let open = [];
  document.body.addEventListener("htmx:beforeSwap", (event) => {
    open = [...event.detail.target.querySelectorAll("details")].map((one) => one.open);
  });
  document.body.addEventListener("htmx:afterSwap", () => {
    document.querySelectorAll("#ranking details").forEach((one, k) => { one.open = one.open || Boolean(open[k]); });
  });

  // The number beside a slider.
  document.body.addEventListener("input", (event) => {
    const beside = document.querySelector(`output[data-of="${event.target.name}"]`);
    if (beside) beside.textContent = event.target.value;
  });

  // What scrolls sideways can be reached by keyboard; what does not is no stop of it.
  const stops = () => {
    for (const one of document.querySelectorAll(".wide")) {
      if (one.scrollWidth > one.clientWidth + 1) one.tabIndex = 0; else one.removeAttribute("tabindex");
    }
  };
  window.addEventListener("resize", stops);
  document.body.addEventListener("toggle", stops, true);
  document.body.addEventListener("htmx:afterSettle", stops);
  stops();

  // A step's own files: when all are there, the page counts them anew.
  const counted = (zone) => { if (zone.dataset.drop !== "frames") window.location.reload(); };

  for (const map of document.querySelectorAll("[data-map]")) {
    const svg = map.querySelector("svg"), mark = map.querySelector("[data-mark]");
    const field = map.parentElement.querySelector("[data-coordinates]");
    const put = () => {
      const found = /^\s*([\d.]+)\s*([NS])[,\s]+([\d.]+)\s*([EW])\s*$/i.exec(field.value);
      mark.toggleAttribute("hidden", !found);
      if (!found) return;
      const y = 90 - found[1] * (found[2].toUpperCase() === "N" ? 1 : -1);
      const x = 180 + found[3] * (found[4].toUpperCase() === "E" ? 1 : -1);
      mark.setAttribute("transform", `translate(${x} ${y})`);
    };
    svg.addEventListener("click", (event) => {
      const box = svg.getBoundingClientRect();
      const east = (event.clientX - box.left) / box.width * 360 - 180;
      const north = 90 - (event.clientY - box.top) / box.height * 180;
      field.value = `${Math.abs(north).toFixed(1)} ${north < 0 ? "S" : "N"} ${Math.abs(east).toFixed(1)} ${east < 0 ? "W" : "E"}`;
      put();
    });
    field.addEventListener("input", put);
    put();
  }

  // When measuring has ended, the list below is shown anew.
  document.body.addEventListener("htmx:afterSwap", (event) => {
    const ended = document.querySelector("#progress [data-reload-once]");
    if (ended && event.detail.target.id === "progress") window.location.reload();
  });
})();
