// A sip is followed by the telephone's own clock (performance.now), which nobody can set. What is
// touched is kept and sent like every answer, in milliseconds since the sip.
window.followSips = function (here) {
"use strict";
var page = here.page, asked = page.timed, one = here.one, all = here.all, show = here.show;
var root = document.documentElement, language = root.lang, box = one("#run"), limit = 1000 * asked.seconds;
var run = null, stage = "", at = null, said = "";   // at: the cup and the part that are at hand
var PACE = 250;   // milliseconds between two levels that are kept while a finger moves
function now() { return window.performance.now(); }
function words() { return asked["in"][language]; }
function stands(cup) { return asked.stands[cup] || {}; }

function mark(moment) {
  here.keep({ kind: "timed", code: run.cup, attribute: run.part, value: moment });
}
function note(event, value, when) {
  var ms = Math.round(when === undefined ? now() - run.start : when);
  run.last = Math.min(limit, Math.max(run.last, ms));
  mark({ run: run.id, ms: run.last, event: event, value: value === undefined ? null : value });
}
function running() { return stage === "on"; }

/* The page: what stands of each cup. */
function parts() {
  all(".timed-part").forEach(function (part) {
    var cup = part.parentNode.getAttribute("data-cup"), state = stands(cup)[part.getAttribute("data-part")];
    var told = asked["in"][root.lang];
    one(".stands", part).textContent = state ? told[state] : "";
    one(".follow", part).textContent = state ? told.again_begin : told.begin;
  });
}
all(".follow").forEach(function (button) {
  button.onclick = function () {
    var part = button.parentNode;
    at = { cup: part.parentNode.getAttribute("data-cup"), part: part.getAttribute("data-part"), from: button };
    language = root.lang;
    lay();
    cover(true);
    turn("ready", "");
  };
});

/* The sip. */
function cover(on) {
  show(box, on);
  all("main, header").forEach(function (rest) { rest.inert = on; });
  document.body.classList.toggle("covered", on);
}
var level = one(".level", box), track = document.createElement("div"), hand = document.createElement("i");
track.className = "track"; track.tabIndex = 0;
track.setAttribute("role", "slider"); track.setAttribute("aria-labelledby", "run-name");
track.setAttribute("aria-valuemin", "0"); track.setAttribute("aria-valuemax", String(asked.top));
track.appendChild(hand);
level.insertBefore(track, level.firstChild);

function lay() {
  var strikes = one(".strikes", box);
  strikes.textContent = "";
  if (at.part !== "dominance") { return; }
  asked.keys.dominance.concat([""]).forEach(function (key) {
    var made = document.createElement("button");
    made.type = "button"; made.setAttribute("data-key", key);
    made.onclick = function () { strike(key); };
    strikes.appendChild(made);
  });
}
function strike(key) {
  if (!running() || run.key === key) { return; }
  run.key = key;
  note("word", key || null);
  draw();
}
function draw() {
  var told = words(), on = stage === "on", others = here.languages(language);
  one(".code", box).textContent = at.cup;
  one("h1", box).textContent = told.names[at.part];
  one(".how", box).textContent = told.how[at.part];
  one(".told", box).textContent = said ? told[said] : "";
  one(".language", box).textContent = others.name;
  one(".language", box).lang = others.key;
  all(".strikes button", box).forEach(function (button) {
    var key = button.getAttribute("data-key");
    button.textContent = key ? told.labels[key] : told.nothing;
    button.setAttribute("aria-pressed", String(on && run.key === key));
  });
  all(".ends span", level).forEach(function (end, place) { end.textContent = place ? told.high : told.low; });
  all(".out", box).forEach(function (button) {
    var kind = button.getAttribute("data-out");
    button.textContent = told[kind];
    button.setAttribute("aria-disabled", String(on && !!run.out));   // it keeps the focus
    button.setAttribute("aria-pressed", String(on && run.out === kind));
  });
  one(".sip", box).textContent = told.sip;
  one(".end", box).textContent = told.end;
  one(".again", box).textContent = told.again;
  one(".close", box).textContent = stage === "over" ? told.over_close : told.close;
  show(one(".how", box), stage === "ready");
  show(one(".clock", box), on);
  show(one(".strikes", box), on && at.part === "dominance");
  show(level, on && at.part === "intensity");
  all(".pair", box)[0].hidden = !on;
  show(one(".sip", box), stage === "ready");
  show(one(".end", box), on);
  show(one(".again", box), on || stage === "over");
  show(one(".close", box), !on);
  if (on) { hold(); }
}
function turn(to, what) {
  stage = to; said = what;
  box.setAttribute("data-stage", to);
  draw();
  var first = to === "on" ? (at.part === "intensity" ? track : one(".strikes button", box)) : to === "over" ? one(".close", box) : one("h1", box);
  first.focus();
}
function identity() {
  var bytes = new Uint8Array(4), text = "";
  window.crypto.getRandomValues(bytes);
  for (var i = 0; i < 4; i += 1) { text += ("0" + bytes[i].toString(16)).slice(-2); }
  return text;
}
one(".sip", box).onclick = function () {
  run = { cup: at.cup, part: at.part, id: identity(), start: now(), last: 0, key: null, out: "",
    level: 0, sent: 0, noted: -PACE, wait: 0, away: null, timer: 0 };
  note("sip", null, 0);
  asked.stands[at.cup][at.part] = "broken";
  run.timer = setInterval(tick, 200);
  turn("on", "running");
  tick();
};
function tick() {
  var left = limit - (now() - run.start);
  if (left <= 0) { finish("time"); return; }
  one(".clock", box).textContent = words().left.replace("{n}", String(Math.ceil(left / 1000)));
}
function finish(kind) {
  clearInterval(run.timer);
  send_level();
  back();
  note("end", kind, kind === "time" ? limit : undefined);
  asked.stands[run.cup][run.part] = kind === "time" || kind === "early" ? "done" : "broken";
  parts();
  turn(kind === "time" || kind === "early" ? "over" : "ready", kind === "time" || kind === "early" ? "over" : kind === "slept" ? "slept" : "ready");
}
all(".out", box).forEach(function (button) {
  button.onclick = function () {
    if (!running() || run.out) { return; }
    run.out = button.getAttribute("data-out");
    note("out", run.out);
    draw();
  };
});
one(".end", box).onclick = function () { if (running()) { finish("early"); } };
one(".again", box).onclick = function () { if (running()) { finish("again"); } else { turn("ready", "ready"); } };
one(".close", box).onclick = close;
function close() {
  stage = "";
  cover(false);
  parts();
  at.from.focus();
  if (language !== root.lang) { here.speak(language); }
}
one(".language", box).onclick = function () { language = here.languages(language).key; draw(); };

/* How strong it is. */
function hold() {
  hand.style.left = 100 * run.level / asked.top + "%";
  track.setAttribute("aria-valuenow", String(run.level));
  track.setAttribute("aria-valuetext", String(run.level));
}
function set(to) {
  to = Math.round(10 * Math.min(asked.top, Math.max(0, to))) / 10;
  if (!running() || to === run.level) { return; }
  run.level = to;
  hold();
  clearTimeout(run.wait);
  var due = run.noted + PACE - now();
  if (due <= 0) { send_level(); } else { run.wait = setTimeout(send_level, due); }
}
function send_level() {
  clearTimeout(run.wait);
  if (run.level === run.sent) { return; }
  run.sent = run.level; run.noted = now();
  note("level", run.level);
}
function under(event) {
  var area = track.getBoundingClientRect();
  set(asked.top * (event.clientX - area.left) / area.width);
}
var down = false;
track.addEventListener("pointerdown", function (event) {
  if (event.button) { return; }
  down = true; under(event);
  if (track.setPointerCapture) { try { track.setPointerCapture(event.pointerId); } catch (none) { down = true; } }
});
track.addEventListener("pointermove", function (event) { if (down) { under(event); } });
["pointerup", "pointercancel"].forEach(function (name) {
  track.addEventListener(name, function () { down = false; if (running()) { send_level(); } });
});
track.addEventListener("keydown", function (event) {
  var by = { ArrowRight: 0.5, ArrowUp: 0.5, ArrowLeft: -0.5, ArrowDown: -0.5, PageUp: 2, PageDown: -2 }[event.key];
  if (!running() || event.ctrlKey || event.metaKey || event.altKey) { return; }
  if (by) { set(run.level + by * asked.top / 10); }
  else if (event.key === "Home") { set(0); }
  else if (event.key === "End") { set(asked.top); }
  else if (/^[0-9]$/.test(event.key)) { set(Number(event.key) * asked.top / 10); }
  else { return; }
  event.preventDefault();
});
document.addEventListener("keydown", function (event) {
  if (event.key === "Escape" && stage && !running()) { close(); }
  if (!running() || event.ctrlKey || event.metaKey || event.altKey || at.part !== "dominance" || !/^[0-9]$/.test(event.key)) { return; }
  var key = event.key === "0" ? "" : asked.keys.dominance[Number(event.key) - 1];
  if (key !== undefined) { strike(key); }
});

/* Out of sight: the clock goes on; a telephone that stood still has lost its time. */
function back() {
  if (!run.away) { return; }
  var gone = run.away;
  run.away = null;
  note("away", Math.round(now() - gone.start), gone.start - run.start);
}
document.addEventListener("visibilitychange", function () {
  if (!running()) { return; }
  if (document.hidden) { send_level(); run.away = { start: now(), wall: Date.now() }; return; }
  var gone = run.away;
  if (!gone) { return; }
  var still = Date.now() - gone.wall - (now() - gone.start) > 1500;
  back();
  if (still) { finish("slept"); } else { tick(); }
});

parts();
return {
  running: running,
  taken: function (touch) {   // what waited on the telephone when the page was loaded
    var own = asked.stands[touch.code], moment = touch.value;
    if (!own) { return; }
    if (moment.event === "sip") { own[touch.attribute] = "broken"; }
    if (moment.event === "end" && (moment.value === "time" || moment.value === "early")) { own[touch.attribute] = "done"; }
    parts();
  },
  blank: function (cup) {
    return asked.parts.filter(function (part) { return asked.stands[cup] && stands(cup)[part] !== "done"; })
      .map(function (part) { return asked["in"][root.lang].names[part]; });
  }
};
};
