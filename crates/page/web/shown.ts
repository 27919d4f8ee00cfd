// Puts a view on the page, and passes on what the student does.

import type { Microphone } from "./microphone";
import { NeckDrawn } from "./neck";
import { remember, remembered } from "./storage";
import { byId, type HallView, type View } from "./view";

export interface Does {
  order(order: string, at: number): void;
  sound(): void;
  level(percent: number): void;
  left(left: boolean): void;
  listen(): void;
  headphones(): void;
  overHttps(): void;
  forget(): void;
}

const SECTIONS = ["start", "check", "back", "lesson", "instrument", "hall", "over"];

export class Shown {
  private readonly neck: NeckDrawn;
  private readonly wall = new NeckDrawn(byId("hall-neck"), undefined, 72);
  private call = 0;
  private view: View | null = null;
  // Something else is read meanwhile.
  private reading = false;

  constructor(does: Does) {
    this.neck = new NeckDrawn(byId("neck"), (place, at) => {
      this.neck.chosen = place;
      does.order(`try ${place}`, at);
    });
    for (const order of ["hear", "again", "reveal", "close", "leave"]) {
      byId(order).onclick = (event) => does.order(order, event.timeStamp);
    }
    byId("answer").onclick = (event) => {
      const order = this.view?.place_wanted ? "place" : "answer";
      does.order(`${order} ${this.neck.chosen}`, event.timeStamp);
    };
    byId("answer-heard").onclick = (event) => does.order(this.view?.heard_order ?? "", event.timeStamp);
    byId("listen").onclick = () => does.listen();
    byId("over-https").onclick = () => does.overHttps();
    byId("not-https").onclick = () => {
      this.reading = false;
      this.only("lesson");
      byId("listen").focus();
    };
    byId("headphones").onchange = () => {
      remember("headphones", this.headphones ? "yes" : "no");
      does.headphones();
    };
    byId("pick").onclick = (event) => does.order(`pick ${this.neck.chosen}`, event.timeStamp);
    byId("pick-any").onclick = (event) => does.order("pick", event.timeStamp);
    byId("sound-on").onclick = () => does.sound();
    byId("forget").onclick = (event) => {
      does.order("leave", event.timeStamp);
      does.forget();
    };
    const level = byId<HTMLInputElement>("level");
    level.oninput = () => {
      remember("level", level.value);
      does.level(this.level);
    };
    const left = byId<HTMLInputElement>("left");
    left.onchange = () => {
      remember("left", left.checked ? "yes" : "no");
      does.left(left.checked);
    };
    addEventListener("resize", () => this.view?.neck && this.neck.show(this.view.neck));
  }

  // The settings as they were.
  recall(): void {
    byId<HTMLInputElement>("level").value = remembered("level") ?? "60";
    byId<HTMLInputElement>("left").checked = remembered("left") === "yes";
    byId<HTMLInputElement>("headphones").checked = remembered("headphones") === "yes";
  }

  get headphones(): boolean {
    return byId<HTMLInputElement>("headphones").checked;
  }

  get mayListen(): boolean {
    return this.view?.may_use_microphone ?? false;
  }

  // Shows something else until it has been read.
  aside(section: string): void {
    this.reading = true;
    this.only(section);
    byId(`${section}-title`).focus();
  }

  get level(): number {
    return Number(byId<HTMLInputElement>("level").value);
  }

  get left(): boolean {
    return byId<HTMLInputElement>("left").checked;
  }

  only(section: string): void {
    for (const each of SECTIONS) hide(each, each !== section);
  }

  show(view: View, soundWorks: boolean, microphone: Microphone): void {
    this.view = view;
    if (view.standing === "words") return;
    if (view.standing === "over") {
      this.reading = false;
      this.only("over");
      text("over-why", view.link);
      text("over-shown", [view.stage === "revealed" ? view.now : "", view.tally].join(" ").trim());
      return;
    }
    if (!this.reading) this.only("lesson");
    if (view.call !== this.call) {
      this.call = view.call;
      this.neck.chosen = "";
    }
    text("lesson-name", view.lesson || "fifthpeg");
    const locked = view.locked ? `locked, host ${view.host}` : "open, not encrypted: anyone here can listen in";
    text("who", view.standing === "in" ? `${view.name} · ${locked}` : view.name);
    text("link", view.link);
    text("search", view.search);
    text("now", view.now);
    text("refusal", view.refusal);
    hide("sound-on", soundWorks);
    const chosen = this.neck.chosen;
    if (view.neck) this.neck.show(view.neck);
    disable("answer", !view.can_answer || !chosen);
    const verb = view.place_wanted ? "It was" : "Answer";
    text("answer", chosen && view.can_answer ? `${verb} ${this.neck.words(chosen)}` : "Answer");
    hide("listen", !view.may_use_microphone);
    text("listen", microphone.isOpen ? "Stop listening" : "Answer on your instrument");
    hide("answer-heard", !view.heard_order);
    text("answer-heard", view.heard_order === "call" ? "Call it" : "Answer with it");
    text("plucked", view.heard);
    text("listening", [view.listening, microphone.note].join(" ").trim());
    disable("hear", !view.can_hear);
    text("hear", view.stage === "open" ? "Hear it again" : "Hear the last note");
    this.caller(view, chosen);
    const tried = [...new Set(view.tried)];
    text("tried", tried.length ? `Tried (string/fret): ${tried.join(", ")}` : "");
    text("tally", view.tally);
  }

  // For a projector.
  hall(view: HallView): void {
    if (view.standing === "over") {
      this.only("over");
      text("over-why", view.link);
      return;
    }
    if (view.standing === "words") return;
    this.only("hall");
    text("hall-lesson", view.lesson || "fifthpeg");
    text("hall-reach", view.reach);
    text("hall-link", view.link);
    text("hall-now", view.now);
    text("hall-found", view.found);
    text("hall-names", view.names.join(" · "));
    if (view.neck) this.wall.show(view.neck);
  }

  private caller(view: View, chosen: string): void {
    hide("caller", !view.friends || !(view.you_call || view.your_turn));
    for (const each of ["pick", "pick-any"]) hide(each, !view.your_turn);
    disable("pick", !chosen);
    for (const each of ["again", "reveal"]) hide(each, !view.you_call || view.stage !== "open");
    hide("close", !view.you_call);
  }
}

// Written only where it changes, so that a screen reader says it once.
function text(id: string, words: string): void {
  const at = byId(id);
  if (at.textContent !== words) at.textContent = words;
}

// So too whether it is there, and can be used: what is written is laid out anew, even where it stays.
function hide(id: string, hidden: boolean): void {
  const at = byId(id);
  if (at.hidden !== hidden) at.hidden = hidden;
}

function disable(id: string, disabled: boolean): void {
  const at = byId<HTMLButtonElement>(id);
  if (at.disabled !== disabled) at.disabled = disabled;
}
