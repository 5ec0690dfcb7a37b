"use strict";
(function () {
  var key = "nightglass bench plan: " + document.body.dataset.name;
  var boxes = Array.prototype.slice.call(document.querySelectorAll("input[data-key]"));
  boxes.sort(function (a, b) { return a.dataset.order - b.dataset.order; });
  var ticks = {};
  var keeps = true;
  try {
    ticks = JSON.parse(localStorage.getItem(key) || "{}");
    if (typeof ticks !== "object" || ticks === null || Array.isArray(ticks)) ticks = {};
    localStorage.setItem(key, JSON.stringify(ticks));
  } catch (fault) {
    if (fault instanceof SyntaxError) ticks = {};
    else keeps = false;
  }
  function show(id, words) {
    var place = document.getElementById(id);
    place.textContent = words;
    place.hidden = words === "";
  }
  function keep() {
    try { localStorage.setItem(key, JSON.stringify(ticks)); } catch (fault) { keeps = false; tell(); }
  }
  function span(minutes) {
    var whole = Math.round(minutes), hours = Math.floor(whole / 60);
    if (hours === 0) return whole + " min";
    return hours + " h" + (whole % 60 ? " " + (whole % 60) + " min" : "");
  }
  function tell() {
    var done = 0, left = 0, next = null, here = {};
    boxes.forEach(function (box) {
      here[box.dataset.key] = true;
      if (box.checked) done += 1;
      else {
        left += Number(box.dataset.minutes);
        if (next === null) next = box;
      }
      box.parentNode.className = "tick";
    });
    var gone = Object.keys(ticks).filter(function (name) { return !here[name]; }).length;
    show("done", done + " of " + boxes.length + " frames" + (next ? "; " + span(left) + " left" : ""));
    show("next", next ? "Next: " + next.dataset.say : "All frames are ticked.");
    if (next) next.parentNode.className = "tick next";
    show("gone", gone === 0 ? "" : gone + (gone === 1 ? " tick belongs" : " ticks belong") +
      " to lines that this plan no longer has: it was made anew. They are kept, and come back with their lines.");
    show("unkept", keeps ? "" : "This browser does not keep ticks: print the list, or open it in another browser.");
  }
  boxes.forEach(function (box) {
    box.checked = ticks[box.dataset.key] === true;
    box.addEventListener("change", function () {
      if (box.checked) ticks[box.dataset.key] = true; else delete ticks[box.dataset.key];
      keep();
      tell();
    });
  });
  var clear = document.getElementById("clear");
  clear.addEventListener("click", function () {
    if (clear.dataset.sure !== "yes") {
      clear.dataset.sure = "yes";
      clear.textContent = "Clear all ticks: tap again";
      return;
    }
    clear.dataset.sure = "";
    clear.textContent = "Clear all ticks";
    ticks = {};
    boxes.forEach(function (box) { box.checked = false; });
    keep();
    tell();
  });
  clear.hidden = false;
  tell();
}());
