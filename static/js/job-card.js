// The job card's outbox. Every tick, reading, note and clock press becomes an entry
// with its own id, is kept in this browser until the server has answered for it, and
// may be sent any number of times: the server counts it once. Without this script the
// same forms post themselves.
(() => {
  const card = document.getElementById("card");
  if (!card) return;
  const me = Number(card.dataset.person);
  const stem = "card-entry:";
  const mine = `${stem}${me}:`;
  const byId = (id) => document.getElementById(id);

  // Kept entries: one storage key each, in the order in which they were made.

  const newId = () => {
    if (crypto.randomUUID) return crypto.randomUUID(); // https and localhost only
    const bytes = crypto.getRandomValues(new Uint8Array(16));
    bytes[6] = (bytes[6] & 0x0f) | 0x40;
    bytes[8] = (bytes[8] & 0x3f) | 0x80;
    const hex = [...bytes].map((b) => b.toString(16).padStart(2, "0")).join("");
    return hex.replace(/^(.{8})(.{4})(.{4})(.{4})(.{12})$/, "$1-$2-$3-$4-$5");
  };

  const read = (prefix) => {
    const found = [];
    for (let i = 0; i < localStorage.length; i += 1) {
      const key = localStorage.key(i);
      if (!key.startsWith(prefix)) continue;
      try {
        found.push({ key, ...JSON.parse(localStorage.getItem(key)) });
      } catch {
        localStorage.removeItem(key); // not written by this script
      }
    }
    return found.sort((a, b) => a.order - b.order);
  };
  const waiting = () => read(mine).filter((entry) => !entry.refused);
  const refused = () => read(mine).filter((entry) => entry.refused);

  const keep = (event, what) => {
    const order = Math.max(0, ...read(mine).map((entry) => entry.order)) + 1;
    const url = card.dataset.eventsUrl;
    const entry = { order, url, what, name: card.dataset.name, event };
    localStorage.setItem(mine + event.event_id, JSON.stringify(entry));
  };

  const refuse = (entry, sentence) => {
    const { key, ...rest } = entry;
    localStorage.setItem(key, JSON.stringify({ ...rest, refused: sentence }));
  };

  // What the server last said about each live part, to swap only what changed.

  const said = new Map();
  const signature = (part) => {
    const copy = part.cloneNode(true);
    for (const field of copy.querySelectorAll(
      "[name=csrfmiddlewaretoken], [name=event_id]",
    )) {
      field.remove(); // new on every answer, without meaning
    }
    return copy.outerHTML;
  };
  const remember = (root) => {
    for (const part of root.querySelectorAll("[data-live]")) {
      said.set(part.id, signature(part));
    }
  };

  const swap = (html) => {
    const box = document.createElement("template");
    box.innerHTML = html;
    const fresh = box.content.firstElementChild;
    const here = byId(fresh.id);
    if (!here) return;
    const parts = fresh.matches("[data-live]")
      ? [fresh]
      : [...fresh.querySelectorAll("[data-live]")];
    if (!fresh.matches("[data-live]")) here.className = fresh.className;
    for (const part of parts) {
      const sign = signature(part);
      const old = byId(part.id);
      if (!old || said.get(part.id) === sign) continue;
      said.set(part.id, sign);
      const focused = old.contains(document.activeElement)
        ? document.activeElement.id
        : "";
      old.replaceWith(part);
      if (focused) byId(focused)?.focus({ preventScroll: true });
    }
  };

  // The page must stay where the thumb is, whatever grows above it.
  const holdStill = (change) => {
    const near = (element) => {
      const box = element.getBoundingClientRect();
      return box.bottom > 0 && box.top < innerHeight;
    };
    const focus = document.activeElement;
    const held =
      focus.id && card.contains(focus) && !focus.closest(".thumb-bar") && near(focus)
        ? focus
        : [...card.querySelectorAll(".step")].find(near);
    if (!held) return change();
    const before = held.getBoundingClientRect().top;
    change();
    const after = byId(held.id)?.getBoundingClientRect().top ?? before;
    scrollBy({ top: after - before, behavior: "instant" });
  };

  // Show what waits as if it were done, and say that it waits.

  const words = {
    start: "Started",
    stop: "Stopped",
    tick: "Tick",
    untick: "Tick taken back",
    reading: "Reading",
    note: "Note",
    fault: "Fault found",
    "fault-cleared": "Fault cleared",
    serial: "Serial number",
  };

  const paintTicks = (events) => {
    for (const button of card.querySelectorAll("button.tick")) {
      const { step, kind } = button.form.elements;
      const latest = events.findLast(
        (e) => e.step === step.value && (e.kind === "tick" || e.kind === "untick"),
      );
      const done = latest ? latest.kind === "tick" : button.dataset.done === "true";
      kind.value = done ? "untick" : "tick";
      button.setAttribute("aria-pressed", String(done));
      button.toggleAttribute("data-waiting", Boolean(latest));
      byId(`wait-${step.value}`).hidden = !latest;
    }
  };

  const paintClocks = (events) => {
    const saved = byId("card-summary").dataset.mine;
    let running = saved;
    for (const event of events) {
      if (event.kind === "start") running = event.task;
      if (event.kind === "stop" && event.task === running) running = "";
    }
    for (const form of card.querySelectorAll("[data-clock]")) {
      const { task, kind } = form.elements;
      const inThumb = form.dataset.clock === "thumb";
      const shown = inThumb ? running || saved || form.dataset.task : task.value;
      const runs = shown === running;
      task.value = shown;
      kind.value = runs ? "stop" : "start";
      form.querySelector("[data-clock-word]").textContent = runs ? "Stop" : "Start";
      if (!inThumb) continue;
      const title = byId(`task-${shown}`)?.dataset.title ?? "";
      form.querySelector("[data-clock-title]").textContent = title;
      form.querySelector("button").classList.toggle("button--main", !runs);
      byId("thumb-go").href = `#task-${shown}`;
    }
  };

  const paintLists = (events) => {
    for (const list of card.querySelectorAll(".task__waiting")) {
      const here = events.filter(
        (e) => `waiting-${e.task}` === list.id && e.kind !== "tick" && e.kind !== "untick",
      );
      list.replaceChildren(
        ...here.map((e) => {
          const line = document.createElement("li");
          const rest = e.text || e.value;
          line.textContent = `${words[e.kind]}${rest ? `: ${rest}` : ""}, waiting to be sent`;
          return line;
        }),
      );
      list.hidden = !here.length;
    }
  };

  let trouble = "";
  const say = (id, text) => {
    if (byId(id).textContent !== text) byId(id).textContent = text;
  };

  const paintOutbox = (count) => {
    const others = read(stem).filter((e) => !e.key.startsWith(mine) && !e.refused);
    const parts = [];
    if (count) parts.push(`${count} waiting to be sent.`);
    if (trouble) parts.push(trouble);
    if (others.length) {
      const names = [...new Set(others.map((e) => e.name))].join(", ");
      parts.push(`${others.length} by ${names} wait until they sign in.`);
    }
    say("outbox", parts.join(" "));
    if (trouble !== signInFirst) return;
    const link = document.createElement("a");
    link.href = card.dataset.signInUrl;
    link.textContent = "Sign in";
    byId("outbox").append(" ", link);
  };

  const paintRefused = () => {
    const list = byId("refused");
    const now = refused();
    const key = now.map((entry) => entry.key).join();
    if (list.dataset.key === key) return;
    list.dataset.key = key;
    list.replaceChildren(
      ...now.map((entry) => {
        const line = document.createElement("p");
        line.className = "outbox";
        line.dataset.state = "refused";
        line.textContent = `Not recorded. ${entry.what}: ${entry.refused} `;
        const button = document.createElement("button");
        button.className = "button";
        button.type = "button";
        button.textContent = "Dismiss";
        button.addEventListener("click", () => {
          localStorage.removeItem(entry.key);
          paint();
        });
        line.append(button);
        return line;
      }),
    );
  };

  const paint = () => {
    const all = waiting();
    const events = all
      .filter((entry) => entry.url === card.dataset.eventsUrl)
      .map((entry) => entry.event);
    paintTicks(events);
    paintClocks(events);
    paintLists(events);
    paintOutbox(all.length);
    paintRefused();
  };

  // Sending, in order. Whatever has no answer stays.

  const signInFirst = "Sign in to send.";
  const cookie = (name) =>
    document.cookie
      .split("; ")
      .find((pair) => pair.startsWith(`${name}=`))
      ?.slice(name.length + 1) ?? "";

  const ask = (url, options = {}) =>
    fetch(url, {
      credentials: "same-origin",
      redirect: "manual",
      cache: "no-store",
      signal: AbortSignal.timeout?.(15000),
      ...options,
    });

  const stateUrl = () =>
    `${card.dataset.stateUrl}?after=${card.dataset.last}&plan=${card.dataset.plan}`;

  const post = (url, entries) =>
    ask(url, {
      method: "POST",
      // The token changes at every sign-in: read it now, not when the page was made.
      headers: { "Content-Type": "application/json", "X-CSRFToken": cookie("csrftoken") },
      body: JSON.stringify({ person: me, events: entries.map((entry) => entry.event) }),
    });

  const settle = (entries, results) => {
    const outcome = new Map(results.map((result) => [result.event_id, result]));
    for (const entry of entries) {
      const result = outcome.get(entry.event.event_id);
      if (!result) continue;
      if (result.outcome === "refused") refuse(entry, result.sentence);
      else localStorage.removeItem(entry.key);
    }
  };

  // One batch; answers with what stands in the way of the next, "" for nothing.
  const sendBatch = async (entries) => {
    const { url } = entries[0];
    let answer = await post(url, entries);
    if (answer.status === 403) {
      const state = await ask(stateUrl());
      if (state.status === 401) return signInFirst;
      answer = await post(url, entries);
    }
    if (answer.status === 401 || answer.type === "opaqueredirect") return signInFirst;
    if (answer.status === 403) return "The server does not accept this sign-in.";
    if (answer.status === 409) {
      return `Somebody else is signed in; ${card.dataset.name} must sign in to send.`;
    }
    if (answer.ok) {
      settle(entries, (await answer.json()).results);
      return "";
    }
    if (answer.status >= 500 || answer.status === 429) return "The server is in trouble.";
    if (entries.length > 1) {
      // One of them spoils the rest: each goes alone.
      for (const entry of entries) {
        const sentence = await sendBatch([entry]);
        if (sentence) return sentence;
      }
      return "";
    }
    const body = await answer.json().catch(() => ({}));
    refuse(entries[0], body.error ?? "The server does not know this job card any more.");
    return "";
  };

  const nextBatch = () => {
    const all = waiting();
    const other = all.findIndex((entry) => entry.url !== all[0].url);
    return all.slice(0, Math.min(other < 0 ? all.length : other, 100));
  };

  let sending = false;
  const flush = async () => {
    if (sending) return;
    sending = true;
    let sent = false;
    try {
      let batch = nextBatch();
      trouble = "";
      while (batch.length && !trouble) {
        trouble = await sendBatch(batch);
        sent = true;
        batch = nextBatch();
      }
    } catch {
      trouble = "No connection.";
    } finally {
      sending = false;
      paint();
    }
    if (sent && !trouble) await look();
  };

  // What others did on this card.

  const announce = (ids) => {
    const titles = ids.map((id) => {
      const count = byId(`count-${id}`)?.textContent.trim();
      return `${byId(`task-${id}`)?.dataset.title}: ${count} steps done`;
    });
    say("card-news", titles.join(". "));
  };

  const outOfDate = (text) => {
    say("stale", text);
    const link = document.createElement("a");
    link.href = location.pathname;
    link.textContent = "Load it again";
    byId("stale").append(" ", link);
  };

  const take = (news) => {
    if (news.person !== me) return outOfDate("Somebody else has signed in.");
    if (news.plan !== card.dataset.plan) outOfDate("The tasks of this card have changed.");
    card.dataset.last = news.last;
    holdStill(() => {
      Object.values(news.tasks).forEach(swap);
      swap(news.summary);
      swap(news.thumb);
      paint();
    });
    announce(Object.keys(news.tasks));
  };

  let looking = false;
  const look = async () => {
    if (looking || document.hidden || byId("stale").textContent) return;
    looking = true;
    try {
      const answer = await ask(stateUrl());
      if (answer.status === 200) take(await answer.json());
      if (answer.status === 401) trouble = signInFirst;
      else if (!waiting().length) trouble = "";
    } catch {
      trouble = "No connection.";
    } finally {
      looking = false;
      paintOutbox(waiting().length);
    }
  };

  // From a form to an entry.

  const odd = (value) => {
    if (/^[-+−]?(\d+\.?\d*|\.\d+)$/.test(value)) return "";
    if (/^[-+]?\d+,\d+$/.test(value)) {
      return `Use a point for decimals: ${value.replace(",", ".")}`;
    }
    return "Enter the number only, such as 12.5.";
  };

  const readingIsOdd = (form) => {
    const field = form.elements.value;
    const sentence = odd(field.value.trim());
    say(`value-error-${form.elements.step.value}`, sentence);
    field.toggleAttribute("aria-invalid", false);
    if (!sentence) return false;
    field.setAttribute("aria-invalid", "true");
    field.focus();
    return true;
  };

  const describe = (event) => {
    const title = byId(`task-${event.task}`)?.dataset.title;
    const step = event.step && byId(`text-${event.step}`)?.textContent.trim();
    const rest = event.value || event.text;
    return `${words[event.kind]}, ${title}${step ? `, “${step}”` : ""}${rest ? `, ${rest}` : ""}`;
  };

  // A gloved thumb that bounces must not tick and untick.
  let last = { form: "", at: -1000 };
  const nameOf = (form) => form.closest("[id]").id;

  card.addEventListener("submit", (submit) => {
    const form = submit.target;
    if (!form.matches("[data-record]")) return;
    const bounced = last.form === nameOf(form) && submit.timeStamp - last.at < 400;
    if (bounced) return submit.preventDefault();
    const fields = Object.fromEntries(new FormData(form));
    const { csrfmiddlewaretoken, ...event } = fields;
    const onReading = form.closest(".step--reading");
    if (onReading && event.kind === "tick") return submit.preventDefault();
    if (event.kind === "reading" && readingIsOdd(form)) return submit.preventDefault();
    event.event_id = newId();
    event.happened_at = new Date().toISOString();
    try {
      keep(event, describe(event));
    } catch {
      return; // no room to keep it: the form posts itself
    }
    submit.preventDefault();
    last = { form: nameOf(form), at: submit.timeStamp };
    for (const field of form.querySelectorAll("textarea, input:not([type=hidden])")) {
      field.value = "";
    }
    paint();
    flush();
  });

  addEventListener("online", flush);
  addEventListener("storage", paint);
  document.addEventListener("visibilitychange", () => {
    if (!document.hidden) flush().then(look);
  });
  setInterval(() => {
    if (document.hidden) return;
    if (waiting().length) flush();
    else look();
  }, 5000);

  remember(card);
  paint();
  flush();
})();
