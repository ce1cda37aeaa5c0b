"use strict";

// The access token outlives a reload of this tab and nothing more; the refresh token lives in this page alone.
const kept = sessionStorage;
let refreshToken = null;
let refreshing = null;

const part = (id) => document.getElementById(id);

function element(name, text, ...children) {
  const made = document.createElement(name);
  if (text) made.textContent = text;
  made.append(...children);
  return made;
}

function say(words) {
  part("wrong").textContent = words;
  part("wrong").hidden = !words;
}

// A refusal in the server's own words.
class Refusal extends Error {
  constructor(status, problem) {
    const fields = (problem.errors ?? []).map((field) => `${field.pointer.replace("/", "")} ${field.detail}`);
    super(fields.length > 1 ? `${problem.title}: ${fields.join("; ")}.` : (problem.detail ?? problem.title));
    this.status = status;
    this.code = problem.code;
  }
}

async function send(method, path, body) {
  const headers = { accept: "application/json" };
  if (body !== undefined) headers["content-type"] = "application/json";
  const token = kept.getItem("access_token");
  if (token) headers.authorization = `Bearer ${token}`;
  let response;
  try {
    response = await fetch(path, { method, headers, body: body === undefined ? undefined : JSON.stringify(body) });
  } catch {
    throw new Error("The server does not answer. Look to your connection and try again.");
  }
  const text = await response.text();
  let value = {};
  try {
    value = text ? JSON.parse(text) : {};
  } catch {
    value = {};
  }
  if (!response.ok) throw new Refusal(response.status, { title: `The server answered ${response.status}.`, ...value });
  return { value, next: nextOf(response) };
}

function nextOf(response) {
  const link = /<([^>]+)>;\s*rel="next"/.exec(response.headers.get("link") ?? "");
  return link ? link[1] : null;
}

function keep(tokens) {
  kept.setItem("access_token", tokens.access_token);
  kept.setItem("member_id", tokens.member_id);
  refreshToken = tokens.refresh_token;
}

function forget() {
  kept.removeItem("access_token");
  kept.removeItem("member_id");
  refreshToken = null;
}

// Exchanges the refresh token once, however many requests wait for it: a second exchange would end the log-in.
function refresh() {
  refreshing ??= (async () => {
    const exchanged = refreshToken;
    refreshToken = null;
    kept.removeItem("access_token");
    keep((await send("POST", "/api/v1/sessions/refresh", { refresh_token: exchanged })).value);
  })().finally(() => {
    refreshing = null;
  });
  return refreshing;
}

// A request of a member who is logged in.
async function ask(method, path, body) {
  const member = kept.getItem("member_id");
  try {
    return await send(method, path, body);
  } catch (error) {
    if (error.status !== 401) throw error;
    try {
      if (refreshing || refreshToken) {
        await refresh();
        return await send(method, path, body);
      }
    } catch (again) {
      if (again.status !== 401) throw again;
    }
    // Several requests may find this out; the page goes back once.
    if (kept.getItem("member_id") === member && member !== null) {
      forget();
      show();
      say("Your log-in has run out. Log in again.");
    }
    throw new Error("Log in again.");
  }
}

const days = new Intl.DateTimeFormat("en-GB", { day: "numeric", month: "short", timeZone: "UTC" });
const moments = new Intl.DateTimeFormat("en-GB", { dateStyle: "long", timeStyle: "short" });
const day = (text) => (text ? days.format(new Date(`${text}T00:00:00Z`)) : "not in sight");
const plain = (word) => (word ?? "").replaceAll("_", " ");

function plantCard(plant) {
  const many = plant.how_many === 1 ? "" : ` × ${plant.how_many}`;
  const label = plant.label ? ` (${plant.label})` : "";
  const warmth = plant.heated_to_c == null ? "" : ` to ${plant.heated_to_c} °C`;
  const facts = [plain(plant.cultivar?.plant_group), plain(plant.form), plain(plant.environment) + warmth];
  const forecast = element("div", "", element("p", "Asking for its forecast …"));
  const card = element(
    "li",
    "",
    element("h3", `${plant.cultivar?.name ?? "A plant"}${label}${many}`),
    Object.assign(element("p", facts.filter(Boolean).join(", ")), { className: "quiet" }),
    forecast,
  );
  return { card, fill: () => fillForecast(forecast, plant.id) };
}

async function fillForecast(place, id) {
  try {
    const { value } = await ask("GET", `/api/v1/forecasts/plants/${encodeURIComponent(id)}`);
    const parts = [element("p", value.words)];
    if (!value.ready_on && value.p10) {
      const dates = element("dl");
      dates.className = "dates";
      for (const [words, date] of [["1 in 10 by", value.p10], ["Half by", value.p50], ["9 in 10 by", value.p90]]) {
        dates.append(element("div", "", element("dt", words), element("dd", day(date))));
      }
      parts.push(dates);
    }
    place.replaceChildren(...parts);
  } catch (error) {
    // The server's words tell programs what else they can ask.
    const words =
      error.code === "no-forecast"
        ? "No forecast: its diary has no stopping of this season yet. Record the day it was last stopped."
        : error.message;
    place.replaceChildren(element("p", words));
  }
}

let nextPlants = null;

async function loadPlants(path) {
  const said = part("plants-said");
  try {
    const { value, next } = await ask("GET", path);
    nextPlants = next;
    part("more-plants").hidden = !next;
    const cards = value.items.map(plantCard);
    part("plants").append(...cards.map(({ card }) => card));
    const shown = part("plants").children.length;
    said.textContent = shown ? "" : "No plants are entered in your name yet.";
    said.hidden = Boolean(shown);
    // A few at a time: a grower may have hundreds.
    const waiting = [...cards];
    const work = async () => {
      for (let card = waiting.shift(); card; card = waiting.shift()) await card.fill();
    };
    await Promise.all([work(), work(), work()]);
  } catch (error) {
    said.hidden = false;
    said.textContent = `Your plants cannot be shown: ${error.message}`;
  }
}

function ringCard(ring, me) {
  const gives = ring.hand_overs.find((hand) => hand.giver_id === me);
  const gets = ring.hand_overs.find((hand) => hand.receiver_id === me);
  const others = ring.partners.filter((partner) => partner.member_id !== me);
  const failed = element("p");
  failed.className = "wrong";
  failed.setAttribute("role", "alert");
  failed.hidden = true;
  const buttons = element("div");
  buttons.className = "actions";
  for (const [words, answer, kind] of [["Accept", "accepted", ""], ["Decline", "declined", "second"]]) {
    const button = element("button", words);
    button.type = "button";
    button.className = kind;
    button.addEventListener("click", async () => {
      for (const each of buttons.children) each.disabled = true;
      try {
        const path = `/api/v1/swaps/rings/${encodeURIComponent(ring.id)}/answer`;
        const { value } = await ask("POST", path, { answer });
        await loadRings(outcome(value, answer));
      } catch (error) {
        failed.textContent = error.message;
        failed.hidden = false;
        for (const each of buttons.children) each.disabled = false;
      }
    });
    buttons.append(button);
  }
  // What the others answered is theirs to tell.
  const standing = `With ${others.map((partner) => partner.name).join(" and ")}`;
  const lines = [
    element("h3", gets ? `You receive ${gets.cultivar_name} from ${gets.giver_name}` : "A swap ring"),
    element("p", gives ? `and give ${gives.cultivar_name} to ${gives.receiver_name}.` : ""),
    Object.assign(element("p", `${standing}. Answer by ${moments.format(new Date(ring.answer_by))}.`), {
      className: "quiet",
    }),
  ];
  return element("li", "", ...lines, failed, buttons);
}

function outcome(ring, answer) {
  if (answer === "declined") return "You declined; the ring is off and its cuttings are free again.";
  if (ring.state !== "accepted") return "You accepted; the others have yet to answer.";
  const met = ring.partners
    .filter((partner) => partner.member_id !== kept.getItem("member_id") && partner.email)
    .map((partner) => `${partner.name} <${partner.email}>`);
  return `Everybody accepted. Arrange where to meet: ${met.join(", ") || "their addresses stand in the ring"}.`;
}

async function loadRings(first) {
  const said = part("rings-said");
  const me = kept.getItem("member_id");
  try {
    const waiting = [];
    for (let path = "/api/v1/swaps/rings?state=proposed&limit=200"; path; ) {
      const { value, next } = await ask("GET", path);
      // Rings that I have answered wait for others.
      waiting.push(
        ...value.items.filter((ring) =>
          ring.partners.some((partner) => partner.member_id === me && partner.answer === "waiting"),
        ),
      );
      path = next;
    }
    part("rings").replaceChildren(...waiting.map((ring) => ringCard(ring, me)));
    const none = waiting.length ? "" : "No ring waits for you.";
    said.textContent = [first, none].filter(Boolean).join(" ");
  } catch (error) {
    said.textContent = `Swap rings cannot be shown: ${error.message}`;
  }
}

async function loadName() {
  try {
    const { value } = await ask("GET", "/api/v1/members/me");
    part("who").textContent = `Welcome, ${value.name}`;
  } catch {
    part("who").textContent = "Welcome";
  }
}

function show() {
  const inside = kept.getItem("access_token") !== null;
  part("outside").hidden = inside;
  part("inside").hidden = !inside;
  part("plants").replaceChildren();
  part("rings").replaceChildren();
  part("plants-said").hidden = false;
  part("plants-said").textContent = part("rings-said").textContent = "Looking …";
  part("more-plants").hidden = true;
  say("");
  if (!inside) return;
  loadName();
  loadRings();
  loadPlants("/api/v1/plants");
}

part("log-in").addEventListener("submit", async (event) => {
  event.preventDefault();
  say("");
  const button = event.target.querySelector("button");
  button.disabled = true;
  try {
    forget();
    const body = { email: part("email").value, password: part("password").value, device: "Web page" };
    keep((await send("POST", "/api/v1/sessions", body)).value);
    part("password").value = "";
    show();
  } catch (error) {
    say(error.message);
  } finally {
    button.disabled = false;
  }
});

part("log-out").addEventListener("click", async () => {
  try {
    await ask("DELETE", "/api/v1/sessions/current");
    forget();
    show();
  } catch (error) {
    // The token is thrown away all the same; only the server may not know yet.
    forget();
    show();
    say(error.message);
  }
});

part("more-plants").addEventListener("click", () => {
  part("more-plants").hidden = true;
  if (nextPlants) loadPlants(nextPlants);
});

show();
