// Drives the program in the page: its WebSocket, its timer, its sounds, its storage.

import init, { Page, name_trouble, test_tone, words_trouble } from "fifthpeg";
import * as clock from "./clock";
import { Shown } from "./shown";
import { Sound } from "./sound";
import { byId, type View } from "./view";

const STORE = "fifthpeg";
const HOURS_KEPT = 12;

const sound = new Sound();
let page: Page | null = null;
let socket: WebSocket | null = null;
let timer = 0;
let stored = "";
let wordsOfLink: string | undefined;

const shown = new Shown({
  order(order, at) {
    page?.order(order, clock.moment(at));
    pump();
  },
  sound() {
    void sound.unlock().then(pump);
  },
  level(percent) {
    page?.set_level(percent);
  },
  left(left) {
    page?.set_left_handed(left);
    pump();
  },
  forget,
});

function recall(): string | undefined {
  try {
    const { kept, at } = JSON.parse(localStorage.getItem(STORE) ?? "{}");
    if (typeof kept === "string" && Date.now() - at < HOURS_KEPT * 3_600_000) return kept;
  } catch {
    // Nothing that can be read: a newcomer.
  }
  return undefined;
}

function keep(): void {
  const kept = page?.to_keep();
  if (kept === stored) return;
  stored = kept ?? "";
  try {
    if (kept) localStorage.setItem(STORE, JSON.stringify({ kept, at: Date.now() }));
    else localStorage.removeItem(STORE);
  } catch {
    // A browser that keeps nothing: a reload comes in anew.
  }
}

function forget(): void {
  try {
    localStorage.clear();
  } catch {
    // Then nothing was kept.
  }
}

function connect(path: string): void {
  const scheme = location.protocol === "https:" ? "wss" : "ws";
  const opening = new WebSocket(`${scheme}://${location.host}${path}`);
  opening.binaryType = "arraybuffer";
  socket = opening;
  const mine = (then: () => void) => () => {
    if (socket === opening) {
      then();
      pump();
    }
  };
  opening.onopen = mine(() => page?.opened(clock.now()));
  opening.onclose = mine(() => {
    socket = null;
    page?.closed(clock.now());
  });
  opening.onmessage = (event: MessageEvent<ArrayBuffer>) => {
    const at = clock.now();
    if (socket !== opening) return;
    page?.received(new Uint8Array(event.data), at);
    pump();
  };
}

function soundAll(): void {
  if (!page) return;
  for (let at = page.poll_sound(); at !== undefined; at = page.poll_sound()) {
    const id = page.sound_id();
    const samples = sound.works ? page.samples(sound.rate) : new Float32Array();
    const started = sound.play(samples as Float32Array<ArrayBuffer>, at);
    if (started) page.sounded(started.at, started.uncertainty, clock.now());
    else page.not_sounded(id, clock.now());
  }
}

function say(): void {
  if (!page) return;
  for (let out = page.poll_out(); out !== undefined; out = page.poll_out()) {
    if (socket?.readyState === WebSocket.OPEN) socket.send(out as Uint8Array<ArrayBuffer>);
  }
}

function pump(): void {
  if (!page) return;
  if (clock.slept()) page.slept(clock.now());
  soundAll();
  say();
  const wanted = page.wants(clock.now());
  if (wanted === undefined && socket) {
    const closing = socket;
    socket = null;
    closing.close();
  } else if (wanted !== undefined && !socket) {
    connect(wanted);
  }
  keep();
  const view = JSON.parse(page.view(clock.now())) as View;
  shown.show(view, sound.works);
  if (view.standing === "words") askWords(view.link);
  const due = page.deadline();
  clearTimeout(timer);
  const wait = due === undefined ? 250 : clock.milliseconds(due) - performance.now();
  timer = window.setTimeout(tick, Math.min(250, Math.max(1, wait)));
}

function tick(): void {
  page?.timeout(clock.now());
  pump();
}

function settle(made: Page): void {
  page = made;
  page.set_level(shown.level);
  page.set_left_handed(shown.left);
  pump();
}

function askWords(why: string): void {
  shown.only("start");
  byId("words-part").hidden = false;
  byId("start-trouble").textContent = why;
  byId("ready").textContent = sound.works ? "Go in" : "Ready: play me a tone";
}

function start(): void {
  const name = byId<HTMLInputElement>("name");
  const words = byId<HTMLInputElement>("words");
  const trouble = byId("start-trouble");
  shown.only("start");
  byId<HTMLFormElement>("form").onsubmit = (event) => {
    event.preventDefault();
    const typed = byId("words-part").hidden ? wordsOfLink : words.value;
    const wrong = name_trouble(name.value) ?? (typed === undefined ? undefined : words_trouble(typed));
    trouble.textContent = wrong ?? "";
    if (wrong) {
      (name_trouble(name.value) ? name : words).focus();
      return;
    }
    if (page && sound.works) {
      page.give_words(words.value, clock.now());
      shown.only("lesson");
      pump();
      return;
    }
    void tone();
  };
  byId("unheard").onclick = () => {
    byId("check-help").hidden = false;
    void tone();
  };
  byId("heard").onclick = () => {
    if (page) page.give_words(words.value, clock.now());
    else {
      const typed = byId("words-part").hidden ? wordsOfLink : words.value;
      settle(new Page(name.value, typed, clock.now()));
    }
    pump();
  };
}

async function tone(): Promise<void> {
  await sound.unlock();
  sound.play(test_tone(sound.rate, shown.level) as Float32Array<ArrayBuffer>, clock.now());
  shown.only("check");
  byId("heard").focus();
}

async function begin(): Promise<void> {
  const fragment = decodeURIComponent(location.hash.slice(1));
  if (fragment) {
    wordsOfLink = fragment.replaceAll("-", " ");
    history.replaceState(null, "", location.pathname);
  }
  byId("plain-http").hidden = location.protocol === "https:";
  await init({ module_or_path: document.body.dataset["wasm"] ?? "" });
  byId("anew").onclick = () => {
    forget();
    location.reload();
  };
  document.addEventListener("visibilitychange", () => {
    if (!document.hidden) tick();
  });
  addEventListener("online", tick);
  start();
  const kept = recall();
  const back = kept === undefined ? undefined : Page.coming_back(kept, wordsOfLink, clock.now());
  if (back) {
    stored = kept ?? "";
    settle(back);
  }
}

begin().catch((error: unknown) => {
  const trouble = byId("start-trouble");
  byId("start").hidden = false;
  trouble.textContent = `This browser cannot run the page (${String(error)}). Try a newer one, or join with a terminal.`;
});
