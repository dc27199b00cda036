// What is touched is first kept on the telephone with a number, then sent in order until the
// server says that it is on its disk. Old browsers without this script have the plain form.
(function () {
"use strict";
var page = JSON.parse(document.getElementById("page").textContent);
var words = page.words, link = page.link, base = location.pathname;
var root = document.documentElement;
if (!window.XMLHttpRequest || !window.JSON || !root.classList || !window.crypto) { return; }
root.classList.add("js");

function one(selector, inside) { return (inside || document).querySelector(selector); }
function all(selector, inside) {
  return Array.prototype.slice.call((inside || document).querySelectorAll(selector));
}
function show(element, visible) { if (element) { element.hidden = !visible; } }

var followed = null;   // what follows a sip, where that is asked

/* The queue: a number and its touch in one transaction, so that neither is there alone. */
var database = null, memory = [], memoryNumber = 0, device = "", waiting = 0;

function newDevice() {
  var bytes = new Uint8Array(16), text = "";
  window.crypto.getRandomValues(bytes);
  for (var i = 0; i < bytes.length; i += 1) { text += ("0" + bytes[i].toString(16)).slice(-2); }
  return text;
}
function open(ready) {
  var asked;
  function without() { device = newDevice(); ready(); }
  try { asked = window.indexedDB.open("kikichoko-table", 1); } catch (none) { without(); return; }
  if (!asked) { without(); return; }
  asked.onupgradeneeded = function () {
    asked.result.createObjectStore("own");
    asked.result.createObjectStore("waiting");
  };
  asked.onerror = without;
  asked.onsuccess = function () {
    database = asked.result;
    var work = database.transaction(["own"], "readwrite"), own = work.objectStore("own");
    var got = own.get(link + ".device");
    got.onsuccess = function () {
      device = got.result || newDevice();
      if (!got.result) { own.put(device, link + ".device"); }
    };
    work.oncomplete = ready;
    work.onabort = function () { database = null; without(); };
  };
}
function keep(touch) {
  tell("saving");
  if (!database) {
    memoryNumber += 1; touch.n = memoryNumber; memory.push(touch); waiting = memory.length; send(); return;
  }
  waiting += 1;
  var work = database.transaction(["own", "waiting"], "readwrite");
  var own = work.objectStore("own"), got = own.get(link + ".number");
  got.onsuccess = function () {
    touch.n = (got.result || 0) + 1;
    own.put(touch.n, link + ".number");
    work.objectStore("waiting").put(touch, [link, touch.n]);
  };
  work.oncomplete = send;
  work.onabort = function () {   // the telephone is full: at least as long as the page is open
    waiting -= 1; database = null; device = newDevice(); keep(touch);
  };
}
function listed(use) {
  if (!database) { use(memory.slice()); return; }
  var found = [], work = database.transaction(["waiting"]);
  var range = window.IDBKeyRange.bound([link, 0], [link, Infinity]);
  work.objectStore("waiting").openCursor(range).onsuccess = function (event) {
    var cursor = event.target.result;
    if (cursor) { found.push(cursor.value); cursor["continue"](); }
  };
  work.oncomplete = function () { waiting = found.length; use(found); };
}
function drop(numbers, then) {
  if (!database) {
    memory = memory.filter(function (touch) { return numbers.indexOf(touch.n) < 0; });
    waiting = memory.length; then(); return;
  }
  var work = database.transaction(["waiting"], "readwrite");
  numbers.forEach(function (n) { work.objectStore("waiting")["delete"]([link, n]); });
  work.oncomplete = then;
}

/* Sending: one request at a time, at most twenty touches, again after a while. */
var sending = false, failed = 0, timer = 0;

function ask(method, path, content, then) {
  var request = new XMLHttpRequest();
  request.open(method, base + path, true);
  request.timeout = 8000;
  if (content) { request.setRequestHeader("Content-Type", "application/json"); }
  request.onreadystatechange = function () {
    if (request.readyState !== 4) { return; }
    var told = null;
    try { told = JSON.parse(request.responseText); } catch (none) { told = null; }
    then(request.status, told);
  };
  request.send(content || null);
}
function send() {
  if (sending) { return; }
  sending = true;
  listed(function (found) {
    var some = found.slice(0, 20);
    if (!some.length) { sending = false; tell(failed ? "kept" : "saved"); return; }
    ask("POST", "touches", JSON.stringify({ device: device, touches: some }), function (status, told) {
      sending = false;
      if (status !== 200 || !told) {
        failed += 1;
        tell(status >= 400 && status < 500 ? "refused_here" : "kept");
        if (told && told.trouble) { trouble(told.trouble); }
        later();
        return;
      }
      failed = 0;
      told.done.forEach(function (pair) {
        if (pair[1] === "saved") { return; }
        trouble(pair[1] === "differs" ? words.differs : pair[1] === "conflict" ? words.conflict : words.not_taken);
      });
      drop(told.done.map(function (pair) { return pair[0]; }), function () { state(told); send(); });
    });
  });
}
function later() {
  clearTimeout(timer);
  timer = setTimeout(function () { send(); poll(); }, Math.min(15000, 500 * Math.pow(2, Math.min(failed, 5))));
}
function poll() {
  ask("GET", "state?device=" + device, "", function (status, told) {
    if (status === 200 && told) {
      var was = failed;
      failed = 0;
      state(told);
      if (was || waiting) { send(); }
    } else { failed += 1; if (!sending) { tell("kept"); } }
  });
}
var touching = false, late = [];   // what is shown and not yet kept
function due() { return touching || late.some(function (entry) { return entry.work; }); }
function tell(kind) {
  if (kind === "saved" && due()) { kind = "saving"; }
  var text = words[kind];
  if (kind === "kept") { text = database || !waiting ? words.kept : words.unkept; }
  one("#state").textContent = text.replace("{n}", String(waiting));
  one("#state").setAttribute("data-state", kind);
}
function trouble(text) { one("#trouble").textContent = text; show(one("#trouble"), true); }

/* What the server says of the table. */
var paused = page.paused, until = 0, closed = page.closed.slice(), finished = page.finished;

function state(told) {
  paused = told.paused;
  show(one("#paused"), paused);
  show(one("#others"), told.others > 0);
  show(one("#shut"), told.shut);
  if (waiting || sending || (followed && followed.running())) { return; }
  var other = told.mark !== page.mark;
  closed.forEach(function (name) { if (told.closed.indexOf(name) < 0) { other = true; } });
  if (finished && !told.finished && page.end) { other = true; }
  told.closed.forEach(function (name) { if (closed.indexOf(name) < 0) { other = true; } });
  if (other) { location.href = base + "?begun=1&language=" + root.lang; return; }
  if (!visible()) { go(); }
}

/* Which part is shown. */
function current() {
  return page.cups.filter(function (name) { return closed.indexOf(name) < 0; })[0];
}
function section(name) {
  return all("section.cup").filter(function (cup) { return cup.getAttribute("data-cup") === name; })[0];
}
function visible() { return all("main > section").filter(function (part) { return !part.hidden; })[0]; }
function only(part) {
  all("main > section").forEach(function (other) { show(other, other === part); });
  if (part) { window.scrollTo(0, 0); var head = one("h1", part); if (head) { head.focus(); } }
}
function go() {
  var name = current();
  if (!name) { only(page.end && !finished ? one("#end") : one("#over")); return; }
  if (paused && !visible()) { return; }
  if (until > Date.now()) { only(one("#rest")); count(); return; }
  only(section(name));
}
function count() {
  var left = Math.ceil((until - Date.now()) / 1000);
  if (left <= 0 || one("#rest").hidden) { until = 0; if (!one("#rest").hidden) { next(); } return; }
  one("#left").textContent = Math.floor(left / 60) + ":" + ("0" + left % 60).slice(-2);
  setTimeout(count, 500);
}
function next() {
  if (paused && current()) { only(null); return; }   // the pause is told above; it ends by itself
  go();
}
one("#early").onclick = function () { until = 0; next(); };
one("#begin").onclick = function (event) { event.preventDefault(); page.stage = "cup"; next(); };
all(".languages a").forEach(function (to) {
  to.onclick = function (event) {
    if (failed || waiting) { event.preventDefault(); trouble(words.offline_language); return; }
    if (page.stage !== "before" && to.search.indexOf("begun") < 0) { to.search += "&begun=1"; }
  };
});

/* Going on from a cup. */
var values = {};
function key(cup, attribute) { return cup + "|" + attribute; }
all("form").forEach(function (form) {
  var cup = one("[name=cup]", form).value, ask = one(".ask-blank", form);
  function on() {
    show(ask, false);
    keep(cup ? { kind: "done", code: cup } : { kind: "finish" });
    if (cup) { closed.push(cup); } else { finished = true; }
    var after = current();
    until = cup && after && page.rests[after] ? Date.now() + 1000 * page.rests[after] : 0;
    next();
  }
  form.onsubmit = function (event) {
    event.preventDefault();
    pending();
    var blank = (page.asked[cup] || []).filter(function (attribute) {
      var there = all(".q", form).some(function (q) {
        return q.getAttribute("data-attribute") === attribute
          || !!one('[data-attribute="' + attribute + '"]', q);
      });
      return there && values[key(cup, attribute)] === undefined;
    });
    blank = blank.map(function (attribute) { return page.names[attribute]; });
    if (followed) { blank = blank.concat(followed.blank(cup)); }
    if (!blank.length || !ask) { on(); return; }
    one(".which", ask).textContent = words.blank_some.replace("{n}", String(blank.length)) + " " + blank.join(", ");
    show(ask, true);
    ask.focus();
    ask.scrollIntoView({ block: "center" });
  };
  if (ask) {
    one(".sure", ask).onclick = on;
    one(".stay", ask).onclick = function () { show(ask, false); };
  }
});

/* Answers. */
function answer(cup, attribute, value) {
  if (value === null) { delete values[key(cup, attribute)]; } else { values[key(cup, attribute)] = value; }
  keep({ kind: "answer", code: cup, attribute: attribute, value: value });
}
function soon(wait, work) {   // saves what goes on, a moment after it stopped
  var entry = { timer: 0, work: null };
  late.push(entry);
  return function () {
    clearTimeout(entry.timer);
    entry.work = function () { entry.work = null; clearTimeout(entry.timer); work(); send(); };
    tell("saving");
    entry.timer = setTimeout(function () { if (entry.work) { entry.work(); } }, wait);
  };
}
function pending() { late.forEach(function (entry) { if (entry.work) { entry.work(); } }); }
window.addEventListener("pagehide", pending);
document.addEventListener("visibilitychange", function () { pending(); if (!document.hidden) { poll(); } });
window.addEventListener("online", function () { failed = 0; send(); poll(); });

function clearButton(label, work) {
  var made = document.createElement("button");
  made.type = "button"; made.className = "small"; made.textContent = words.clear;
  made.setAttribute("aria-label", words.clear + ": " + label);
  made.onclick = work;
  return made;
}
function setters(q) {
  var kind = q.getAttribute("data-kind"), cup = q.getAttribute("data-cup");
  var attribute = q.getAttribute("data-attribute");
  if (kind === "line") { return line(q, cup, attribute); }
  if (kind === "words") {
    var field = one("textarea", q), last = field.value;
    function save() {
      if (field.value === last) { return; }
      last = field.value; answer(cup, attribute, last.trim() ? last : null);
    }
    var write = soon(900, save);
    field.addEventListener("input", write);
    field.addEventListener("change", save);
    return function (_, value) {
      field.value = last = value === null ? "" : value;
      if (value !== null && q.parentNode.tagName === "DETAILS") { q.parentNode.open = true; }
    };
  }
  if (kind === "ticks") {
    all("input", q).forEach(function (box) {
      box.addEventListener("change", function () { answer(cup, box.getAttribute("data-attribute"), box.checked ? 1 : null); });
    });
    return function (name, value) {
      all("input", q).forEach(function (box) { if (box.getAttribute("data-attribute") === name) { box.checked = !!value; } });
    };
  }
  if (kind === "ranking") {
    var places = all("select", q);
    places.forEach(function (place) {
      place.addEventListener("change", function () {
        places.forEach(function (other) {
          if (other !== place && other.value && other.value === place.value) {
            other.value = ""; answer(cup, other.getAttribute("data-attribute"), null);
          }
        });
        answer(cup, place.getAttribute("data-attribute"), place.value ? Number(place.value) : null);
      });
      if (place.value) { values[key(cup, place.getAttribute("data-attribute"))] = Number(place.value); }
    });
    return function (name, value) {
      places.forEach(function (place) {
        if (place.getAttribute("data-attribute") === name) { place.value = value === null ? "" : String(value); }
      });
    };
  }
  var boxes = all("input", q), named = kind === "choice";
  var label = one("legend", q).textContent;
  var clear = clearButton(label, function () {
    boxes.forEach(function (box) { box.checked = false; });
    show(clear, false); answer(cup, attribute, null);
  });
  q.appendChild(clear);
  boxes.forEach(function (box) {
    box.addEventListener("change", function () { show(clear, true); answer(cup, attribute, named ? box.value : Number(box.value)); });
    if (box.checked) { values[key(cup, attribute)] = box.value; }
  });
  show(clear, boxes.some(function (box) { return box.checked; }));
  return function (_, value) {
    boxes.forEach(function (box) { box.checked = value !== null && box.value === String(value); });
    show(clear, value !== null);
  };
}
function line(q, cup, attribute) {
  var low = Number(q.getAttribute("data-low")), high = Number(q.getAttribute("data-high"));
  var value = q.getAttribute("data-value") === "" ? null : Number(q.getAttribute("data-value"));
  var track = document.createElement("div"), mark = document.createElement("i");
  var row = document.createElement("div"), out = document.createElement("output");
  var label = one(".name", q).textContent;
  var describes = one(".ask", q);
  track.className = "track"; track.tabIndex = 0; track.setAttribute("role", "slider");
  track.setAttribute("aria-labelledby", one(".name", q).id);
  if (describes) { track.setAttribute("aria-describedby", describes.id); }
  track.setAttribute("aria-valuemin", String(low)); track.setAttribute("aria-valuemax", String(high));
  row.className = "row"; track.appendChild(mark); row.appendChild(out);
  var clear = clearButton(label, function () { set(null); write(); track.focus(); });
  row.appendChild(clear);
  q.insertBefore(track, one(".ends", q)); q.appendChild(row);
  var ends = all(".ends span", q), sent = value;
  function draw() {
    show(mark, value !== null); show(clear, value !== null);
    if (value !== null) { mark.style.left = 100 * (value - low) / (high - low) + "%"; }
    out.textContent = value === null ? words.mark_none : String(value);
    track.setAttribute("aria-valuenow", String(value === null ? low : value));
    track.setAttribute("aria-valuetext", value === null ? words.mark_none
      : value + (value === low ? ", " + ends[0].textContent : value === high ? ", " + ends[1].textContent : ""));
  }
  function set(to) {
    if (to !== null) { to = Math.round(Math.min(high, Math.max(low, to)) * 10) / 10; }
    value = to; draw();
  }
  function save() { if (value !== sent) { sent = value; answer(cup, attribute, value); } }
  var write = soon(250, save);
  function under(x) {
    var box = track.getBoundingClientRect();
    return low + (high - low) * (x - box.left) / box.width;
  }
  var from = null, before = null, moving = false;
  track.addEventListener("pointerdown", function (event) {
    if (event.button) { return; }
    from = event.clientX; before = value; moving = false;
    if (track.setPointerCapture) { try { track.setPointerCapture(event.pointerId); } catch (none) { from = event.clientX; } }
  });
  track.addEventListener("pointermove", function (event) {
    if (from === null) { return; }
    if (Math.abs(event.clientX - from) > 6) { moving = true; }
    if (moving) { touching = true; tell("saving"); set(under(event.clientX)); }
  });
  track.addEventListener("pointerup", function (event) {
    if (from === null) { return; }
    from = null; touching = false; set(under(event.clientX)); save(); send();
  });
  track.addEventListener("pointercancel", function () {   // the thumb scrolled the page
    if (from !== null) { from = null; touching = false; set(before); send(); }
  });
  track.addEventListener("keydown", function (event) {
    var name = event.key, by = { ArrowRight: 0.1, ArrowUp: 0.1, ArrowLeft: -0.1, ArrowDown: -0.1, PageUp: 1, PageDown: -1 }[name];
    if (event.ctrlKey || event.metaKey || event.altKey) { return; }
    by = by && by * (high - low) / 10;
    if (by) { set(value === null ? (by > 0 ? low : high) : value + by); }
    else if (name === "Home") { set(low); }
    else if (name === "End") { set(high); }
    else if (/^[0-9]$/.test(name)) { set(low + Number(name) * (high - low) / 10); }
    else if (name === "Delete" || name === "Backspace") { set(null); }
    else { return; }
    event.preventDefault(); write();
  });
  if (!window.PointerEvent) {   // without: the number is typed
    track.parentNode.removeChild(track);
    var typed = one("input", q);
    one(".plain", q).className = "";
    typed.addEventListener("change", function () {
      var number = Number(typed.value.replace(",", "."));
      set(typed.value.trim() === "" || isNaN(number) ? null : number); save();
    });
  }
  if (value !== null) { values[key(cup, attribute)] = value; }
  draw();
  return function (_, to) { value = sent = to; draw(); };
}
var set = {};
all(".q").forEach(function (q) {
  var cup = q.getAttribute("data-cup"), setter = setters(q);
  var names = all("[data-attribute]", q).map(function (part) { return part.getAttribute("data-attribute"); });
  if (q.getAttribute("data-attribute")) { names.push(q.getAttribute("data-attribute")); }
  names.forEach(function (name) { set[key(cup, name)] = setter; });
});

/* The time in the mouth, where it is asked. */
function speak(language) {
  if (failed || waiting) { trouble(words.offline_language); return; }
  location.href = base + "?begun=1&language=" + language;
}
if (page.timed && window.performance && window.followSips) {
  followed = window.followSips({ page: page, one: one, all: all, show: show, keep: keep, speak: speak,
    languages: function (from) { return page.languages.filter(function (to) { return to.key !== from; })[0]; } });
}

/* Begin: what waited on the telephone is shown again, then sent. */
if (page.rest > 0) { until = Date.now() + 1000 * page.rest; }
open(function () {
  listed(function (found) {
    found.forEach(function (touch) {
      if (touch.kind === "done" && closed.indexOf(touch.code) < 0) { closed.push(touch.code); }
      if (touch.kind === "finish") { finished = true; }
      if (touch.kind === "timed" && followed) { followed.taken(touch); }
      if (touch.kind !== "answer") { return; }
      var setter = set[key(touch.code, touch.attribute)];
      if (setter) { setter(touch.attribute, touch.value); }
      if (touch.value === null) { delete values[key(touch.code, touch.attribute)]; } else { values[key(touch.code, touch.attribute)] = touch.value; }
    });
    if (page.stage !== "before" || found.length) { page.stage = "cup"; go(); }
    tell(found.length ? "saving" : "saved");
    root.setAttribute("data-ready", "1");
    send(); poll();
    setInterval(poll, 5000);
  });
});
}());
