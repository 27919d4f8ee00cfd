// Drives the program in the page: its WebSocket, its timer, its sounds, its storage.

import init, { Page, name_trouble, test_tone, words_trouble } from "fifthpeg";
import * as clock from "./clock";
import { type Heard, Microphone } from "./microphone";
import { Shown } from "./shown";
import { Sound } from "./sound";
import * as storage from "./storage";
import { byId, type HallView, type View } from "./view";

const sound = new Sound();
let page: Page | null = null;
let socket: WebSocket | null = null;
let timer = 0;
let stored = "";
let wordsOfLink: string | undefined;
// For a projector: no student, no sound, nothing kept.
const isHall = location.pathname === "/hall";
// Whether the student wants the instrument to be listened to.
let listens = false;
let opening = false;
const microphone = new Microphone();

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
  listen() {
    microphone.note = "";
    listens = !microphone.isOpen;
    if (listens && !Microphone.canBeHad) {
      listens = false;
      shown.aside("instrument");
    }
    pump();
  },
  headphones() {
    if (microphone.isOpen) page?.microphone(sound.rate, shown.headphones);
    pump();
  },
  overHttps() {
    const kept = page?.to_keep();
    if (kept) location.assign(storage.addressOverHttps(kept, wordsOfLink));
  },
  forget: storage.forget,
});

function keep(): void {
  const kept = page?.to_keep();
  if (kept === stored) return;
  stored = kept ?? "";
  storage.keep(kept);
}

// The microphone is open while it is wanted, the page is in view and phones may listen here.
function mindMicrophone(): void {
  if (!page) return;
  const context = sound.works ? sound.context : null;
  if (microphone.isOpen && microphone.ended) {
    listens = false;
    microphone.note = "The phone turned the microphone off. Tap “Answer on your instrument” to turn it on again.";
  }
  const wanted = listens && context !== null && !document.hidden && shown.mayListen;
  if (microphone.isOpen && (!wanted || !microphone.belongsTo(context))) {
    microphone.close();
    page.microphone_closed(clock.now());
  }
  if (microphone.isOpen) microphone.attend(page.may_listen(clock.now()));
  else if (wanted && !opening) {
    opening = true;
    void microphone.open(context, hear).then((done) => {
      opening = false;
      if (done) page?.microphone(context.sampleRate, shown.headphones);
      else listens = false;
      pump();
    });
  }
}

function hear({ samples, at, uncertainty, lost }: Heard): boolean {
  const now = clock.now();
  if (!page || document.hidden || !page.may_listen(now)) return false;
  if (page.hear(samples, at, uncertainty, lost, now)) pump();
  return true;
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
  mindMicrophone();
  const view = JSON.parse(isHall ? page.hall_view() : page.view(clock.now())) as View | HallView;
  if ("reach" in view) shown.hall(view);
  else shown.show(view, sound.works, microphone);
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

let wordsAsked = "";

function askWords(why: string): void {
  shown.only("start");
  byId("words-part").hidden = false;
  // Said once: what is wrong with the words typed since stands there otherwise.
  if (why !== wordsAsked) byId("start-trouble").textContent = why;
  wordsAsked = why;
  byId("ready").textContent = isHall || sound.works ? "Go in" : "Ready: play me a tone";
}

function start(): void {
  const name = byId<HTMLInputElement>("name");
  const words = byId<HTMLInputElement>("words");
  const trouble = byId("start-trouble");
  shown.only("start");
  byId<HTMLFormElement>("form").onsubmit = (event) => {
    event.preventDefault();
    const typed = byId("words-part").hidden ? wordsOfLink : words.value;
    const nameless = isHall || page !== undefined ? undefined : name_trouble(name.value);
    wordsAsked = "";
    const wrong = nameless ?? (typed === undefined ? undefined : words_trouble(typed));
    trouble.textContent = wrong ?? "";
    if (wrong) {
      (nameless ? name : words).focus();
      return;
    }
    if (page && (isHall || sound.works)) {
      page.give_words(words.value, clock.now());
      shown.only(isHall ? "hall" : "lesson");
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
  if (!sound.works) byId("check-help").hidden = false;
  shown.only("check");
  byId("heard").focus();
}

// A link may hold a seat that is not of who opens it.
function ask(back: Page): void {
  const { name } = JSON.parse(back.view(clock.now())) as View;
  byId("back-title").textContent = `Go on as ${name}?`;
  byId("go-on").onclick = () => void sound.unlock().then(() => settle(back));
  byId("not-me").onclick = () => {
    listens = false;
    shown.only("start");
  };
  shown.only("back");
}

async function begin(): Promise<void> {
  const fragment = decodeURIComponent(location.hash.slice(1));
  const carried = storage.broughtBy(fragment);
  wordsOfLink = carried ? carried.words : fragment.replaceAll("-", " ") || undefined;
  if (fragment) history.replaceState(null, "", location.pathname);
  // Who comes over from http has asked for the microphone.
  listens = carried !== undefined && Microphone.canBeHad;
  shown.recall();
  byId("plain-http").hidden = location.protocol === "https:";
  await init({ module_or_path: document.body.dataset["wasm"] ?? "" });
  byId("anew").onclick = () => {
    storage.forget();
    location.reload();
  };
  document.addEventListener("visibilitychange", () => {
    if (document.hidden) mindMicrophone();
    else tick();
  });
  addEventListener("online", tick);
  start();
  if (isHall) {
    document.body.classList.add("wall");
    for (const part of ["name-part", "caution"]) byId(part).hidden = true;
    page = Page.hall(wordsOfLink, clock.now());
    pump();
    return;
  }
  const kept = carried?.kept || storage.recall();
  const back = kept === undefined ? undefined : Page.coming_back(kept, wordsOfLink, clock.now());
  if (back && carried?.kept) ask(back);
  else if (back) settle(back);
}

begin().catch((error: unknown) => {
  const trouble = byId("start-trouble");
  byId("start").hidden = false;
  trouble.textContent = `This browser cannot run the page (${String(error)}). Try a newer one, or join with a terminal.`;
});
