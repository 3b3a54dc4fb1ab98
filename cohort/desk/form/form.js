"use strict";
// Entries stay on this phone until they are sent. What is sent are lines of plain check notes.
const data = JSON.parse(document.getElementById("data").textContent);
const words = data.words;
const at = (id) => document.getElementById(id);
const KEY = "founding-form:" + data.key;
const today = () => {
  const now = new Date();
  return new Date(now.getTime() - 60000 * now.getTimezoneOffset()).toISOString().slice(0, 10);
};

// --- what is kept -----------------------------------------------------------------------------

let refused = false;
let kept = { days: {} };
try {
  kept = JSON.parse(localStorage.getItem(KEY)) || kept;
  localStorage.setItem(KEY, JSON.stringify(kept));
} catch {
  refused = true;
}
if (!kept.days || typeof kept.days !== "object") kept = { days: {} };

function keep() {
  try {
    localStorage.setItem(KEY, JSON.stringify(kept));
    refused = false;
  } catch {
    refused = true;
  }
  at("refused").hidden = !refused;
}

const day = () => at("day").value || today();
const here = () => (kept.days[day()] ||= { looks: {}, rest: false });
const has = (look) => Boolean(look && (look.queens || look.workers || look.brood || look.note
  || look.ended || look.left || look.handed || (look.events || []).length));

// --- a founding's last look, with what this phone has since ------------------------------------

function lastLook(founding, until = "9999") {
  let { queens, workers, looked, handed } = founding;
  for (const date of Object.keys(kept.days).sort()) {
    if (date >= until) break;
    const look = kept.days[date].looks[founding.number];
    if (!has(look)) continue;
    if (look.queens) queens = look.queens;
    if (look.workers) workers = look.workers;
    if (look.handed) handed = look.handed;
    looked = date;
  }
  return { queens, workers, looked, handed };
}

const fill = (text, values) => text.replace(/\{(\w+)\}/g, (_, name) => values[name]);
const shown = (iso) => iso
  ? new Date(iso + "T12:00:00").toLocaleDateString(document.documentElement.lang,
    { day: "numeric", month: "long" })
  : "";

// --- the list ---------------------------------------------------------------------------------

function list() {
  const place = at("list");
  place.replaceChildren();
  for (const founding of data.foundings) {
    const look = here().looks[founding.number];
    const item = document.createElement("li");
    const button = document.createElement("button");
    button.type = "button";
    const row = document.createElement("span");
    row.className = "row";
    const name = document.createElement("span");
    const strong = document.createElement("b");
    strong.textContent = founding.number + " ";
    const kind = document.createElement(founding.named ? "i" : "span");
    kind.textContent = founding.kind;
    name.append(strong, kind);
    const state = document.createElement("span");
    if (has(look)) state.textContent = "✓ " + line(founding.number, look).slice(founding.number.length);
    else state.textContent = told(lastLook(founding, day()));
    state.className = has(look) ? "" : "quiet";
    row.append(name, state);
    button.append(row);
    button.addEventListener("click", () => open(founding));
    item.append(button);
    place.append(item);
  }
  at("empty").hidden = data.foundings.length > 0;
  at("rest").checked = here().rest;
  const many = Object.values(kept.days).reduce(
    (sum, one) => sum + Object.values(one.looks).filter(has).length + (one.rest ? 1 : 0), 0);
  at("send").textContent = many ? `${words.send} (${many})` : words.send;
  at("send").disabled = !many;
  const late = day() > today();
  at("daywarn").textContent = late ? words.day_ahead : "";
  at("daywarn").hidden = !late;
}

const told = ({ queens, workers, looked, handed }) => fill(words.last, {
  queens, workers: workers || "–", day: looked ? shown(looked) : words.start,
}) + (handed ? " · " + fill(words.is_handed, { keeper: handed }) : "");

// --- one founding -----------------------------------------------------------------------------

let current = null;

function chips(place, values, chosen, pick, label = (value) => value) {
  at(place).replaceChildren();
  for (const value of values) {
    const button = document.createElement("button");
    button.type = "button";
    button.textContent = label(value);
    button.dataset.value = value;
    button.setAttribute("aria-pressed", String(chosen(value)));
    button.addEventListener("click", () => { pick(value); draft(); });
    at(place).append(button);
  }
}

function look() {
  return (here().looks[current.number] ||= { queens: "", workers: "", brood: "", events: [],
    left: "", handed: "", ended: "", note: "" });
}

function open(founding) {
  current = founding;
  kept.open = founding.number;
  showing(true);
  draft();
  scrollTo(0, 0);
  at("which").focus({ preventScroll: true });
}

function draft() {
  const one = look();
  const last = lastLook(current, day());
  const most = Math.max(parseInt(last.queens, 10) || 1, parseInt(one.queens, 10) || 0);
  at("which").textContent = `${current.number} ${current.kind}`;
  at("before").textContent = told(last);
  const upto = Array.from({ length: most + 2 }, (_, n) => String(most + 1 - n));
  chips("queens", upto, (v) => one.queens === v, (v) => { one.queens = one.queens === v ? "" : v; });
  const counts = [...Array.from({ length: 11 }, (_, n) => String(n)), "10+", "20+", "50+"];
  chips("workers", counts, (v) => one.workers === v,
    (v) => { one.workers = one.workers === v ? "" : v; });
  chips("brood", data.brood, (v) => one.brood === v,
    (v) => { one.brood = one.brood === v ? "" : v; }, (v) => words["brood_" + v]);
  const events = [...data.events, ...data.left];
  const chosen = (v) => one.events.includes(v) || one.left === v;
  chips("events", events, chosen, (v) => {
    if (data.left.includes(v)) one.left = one.left === v ? "" : v;
    else one.events = chosen(v) ? one.events.filter((e) => e !== v) : [...one.events, v];
  }, (v) => words["event_" + v.replace("-", "_")] || words["left_" + v]);
  if (data.keeper) {
    chips("handed", data.others, (v) => one.handed === v,
      (v) => { handOver(one, one.handed === v ? "" : v); });
    at("sign").value = data.others.includes(one.handed) ? "" : one.handed || "";
  }
  chips("ended", data.ended, (v) => one.ended === v,
    (v) => { one.ended = one.ended === v ? "" : v; if (one.ended) one.handed = ""; }, (v) => words["end_" + v.replace("-", "_")]);
  at("leftbox").hidden = !one.left;
  at("leftnumber").value = one.leftnumber || "1";
  at("note").value = one.note;
  const more = one.queens && parseInt(one.queens, 10) > parseInt(last.queens, 10);
  say("queenswarn", more ? fill(words.more_queens, last) : "");
  const gone = one.workers === "0" && parseInt(last.workers, 10) > 0;
  say("workerswarn", gone ? fill(words.workers_gone, last) : "");
  keep();
  list();
}

// what another keeper goes on with has not ended
function handOver(one, sign) {
  one.handed = sign;
  if (sign) one.ended = "";
}

function say(place, text) {
  at(place).textContent = text;
  at(place).hidden = !text;
}

// --- lines of check notes ---------------------------------------------------------------------

function line(number, one) {
  const parts = [number];
  // an event comes after the look: a queen who left that day was still counted at it
  const gone = one.left ? parseInt(one.leftnumber || "1", 10) : 0;
  const none = one.brood === "none"; // understood behind both counts only
  const queens = one.queens && String(parseInt(one.queens, 10) + gone);
  if (queens || one.workers || none) parts.push(queens || "-");
  if (one.workers || none) parts.push(one.workers || "-");
  if (one.brood) parts.push(one.brood);
  parts.push(...(one.events || []));
  if (one.left) parts.push("queens-out", one.leftnumber || "1", one.left);
  if (one.handed) parts.push("handed-over", one.handed);
  if (one.ended) parts.push("end", one.ended);
  const note = (one.note || "").replace(/\s+/g, " ").trim();
  if (note) parts.push("note:", note);
  return parts.join(" ");
}

function lines() {
  const out = [];
  for (const date of Object.keys(kept.days).sort()) {
    const one = kept.days[date];
    const looks = data.foundings.filter((f) => has(one.looks[f.number]))
      .map((f) => line(f.number, one.looks[f.number]));
    if (one.rest) looks.push("rest same");
    if (looks.length) out.push(date, ...looks, "");
  }
  return out.join("\n");
}

const fileName = () => `checks${data.keeper ? "-" + data.keeper : ""}-${today()}.txt`;

// --- sending ----------------------------------------------------------------------------------

at("send").addEventListener("click", () => {
  at("lines").value = lines();
  say("sent", "");
  at("sent").hidden = false;
  at("share").hidden = !navigator.share;
  at("sending").showModal();
});
at("share").addEventListener("click", async () => {
  try {
    await navigator.share({ title: fileName(), text: at("lines").value });
    at("sent").textContent = words.is_sent;
  } catch (fault) {
    if (fault.name !== "AbortError") at("sent").textContent = words.not_shared;
  }
});
at("copy").addEventListener("click", async () => {
  try {
    await navigator.clipboard.writeText(at("lines").value);
  } catch {
    at("lines").select();
    document.execCommand("copy");
  }
  at("sent").textContent = words.is_copied;
});
at("save").addEventListener("click", () => {
  const link = document.createElement("a");
  link.href = "data:text/plain;charset=utf-8," + encodeURIComponent(at("lines").value);
  link.download = fileName();
  link.click();
  at("sent").textContent = fill(words.is_saved, { file: fileName() });
});
at("done").addEventListener("click", () => {
  // what was counted stays as the last look; only the lines are no longer to be sent
  for (const founding of data.foundings) Object.assign(founding, lastLook(founding));
  kept = { days: {}, last: Object.fromEntries(data.foundings.map((f) =>
    [f.number, { queens: f.queens, workers: f.workers, looked: f.looked, handed: f.handed }])) };
  close();
  at("sending").close();
});
at("back").addEventListener("click", () => at("sending").close());

function close() {
  current = null;
  delete kept.open;
  showing(false);
  keep();
  list();
}

function showing(one) {
  at("entry").hidden = !one;
  at("all").hidden = at("foot").hidden = one;
}

// --- the rest ---------------------------------------------------------------------------------

at("keep").addEventListener("click", () => { close(); at("list").scrollIntoView(); });
at("clear").addEventListener("click", () => { delete here().looks[current.number]; close(); });
at("note").addEventListener("input", () => { look().note = at("note").value; keep(); list(); });
at("leftnumber").addEventListener("input", () => {
  look().leftnumber = at("leftnumber").value.replace(/\D/g, "");
  keep();
});
if (data.keeper) at("sign").addEventListener("input", () => {
  handOver(look(), at("sign").value.replace(/[^\p{L}\p{N}_-]|^[-]+|[-]+$/gu, ""));
  keep();
  list();
});
if (data.keeper) at("sign").addEventListener("change", draft);
at("rest").addEventListener("change", () => { here().rest = at("rest").checked; keep(); list(); });
at("day").addEventListener("change", () => (current ? draft() : list()));

for (const founding of data.foundings) {
  const since = (kept.last || {})[founding.number];
  if (since && since.looked > founding.looked) Object.assign(founding, since);
}
at("day").value = today();
at("refused").hidden = !refused;
list();
const left = data.foundings.find((founding) => founding.number === kept.open);
if (left) open(left);
