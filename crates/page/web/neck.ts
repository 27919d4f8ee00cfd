// The neck as SVG: drawn when its shape changes, its signs put on at each view.

import { byId, type Neck, type Place } from "./view";

const THUMB = 46; // Between two strings, and the narrowest fret, in pixels.
const TARGET = 24; // The least room of something to tap (WCAG 2.2, 2.5.8).
const BESIDE = 52;
const ABOVE = 26;
const BELOW = 40;
const SIGNS: Record<string, string> = { waiting: "…", missed: "×", found: "✓" };

function svg(name: string, attributes: Record<string, string | number>, inside?: Element): SVGElement {
  const made = document.createElementNS("http://www.w3.org/2000/svg", name);
  for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, String(value));
  inside?.append(made);
  return made;
}

export class NeckDrawn {
  private shape = "";
  // What the places show, as it was drawn last.
  private signs = "";
  private places = new Map<string, SVGElement>();
  private of: Place[] = [];
  chosen = "";

  // Without anything to do on it, it is a picture, and what it shows stands beside it in words.
  constructor(
    private readonly box: HTMLElement,
    private readonly onTry?: (place: string, at: number) => void,
    private readonly apart = THUMB,
  ) {
    if (!onTry) return;
    box.addEventListener("click", (event) => {
      const place = (event.target as Element).closest<SVGElement>("[data-place]");
      if (place) onTry(place.dataset["place"] ?? "", event.timeStamp);
    });
    box.addEventListener("keydown", (event) => this.key(event));
  }

  show(neck: Neck): void {
    const { places, ...shape } = neck;
    // Shown, as many of its places as can be are to be seen at once; until then a thumb needs room.
    const tight = places.some((place) => place.sign === "revealed");
    const described = JSON.stringify([shape, tight, places.map((p) => [p.place, p.x, p.y, p.within]), this.box.clientWidth]);
    if (described !== this.shape) {
      this.shape = described;
      this.signs = "";
      this.draw(neck, tight ? TARGET : this.apart);
    }
    this.of = places;
    if (!this.places.has(this.chosen)) this.chosen = "";
    const signs = JSON.stringify([places, this.chosen]);
    if (signs === this.signs) return;
    this.signs = signs;
    const focusable = this.chosen || places[0]?.place;
    for (const place of places) {
      const drawn = this.places.get(place.place);
      if (!drawn) continue;
      const chosen = place.place === this.chosen;
      const classes = ["place", place.open && place.within ? "open" : "", place.sign, chosen ? "chosen" : ""];
      drawn.setAttribute("class", classes.filter(Boolean).join(" "));
      if (this.onTry) {
        drawn.setAttribute("aria-label", chosen ? `${place.words}, chosen` : place.words);
        drawn.setAttribute("tabindex", place.place === focusable ? "0" : "-1");
      }
      const sign = drawn.querySelector(".in");
      if (sign) sign.textContent = SIGNS[place.sign] ?? "";
    }
  }

  words(place: string): string {
    const [string, fret] = place.split("/");
    return fret === "0" ? `string ${string}, open` : `string ${string}, fret ${fret}`;
  }

  private draw(neck: Neck, fret: number): void {
    const room = Math.max(280, this.box.clientWidth - 32);
    // A picture is seen whole.
    const across = Math.max(room - BESIDE - 14, this.onTry ? fret / neck.narrowest : 0);
    const down = this.apart * Math.max(1, neck.strings.length - 1);
    const width = across + BESIDE + 14;
    const height = ABOVE + down + BELOW;
    const from = neck.left_handed ? 14 : BESIDE;
    const outwards = neck.left_handed ? 1 : -1;
    const x = (at: number) => from + at * across;
    const y = (at: number) => ABOVE + at * down;
    const size = { width, height, viewBox: `0 0 ${width} ${height}` };
    const drawing = svg("svg", this.onTry ? size : { ...size, "aria-hidden": "true" });
    // From the first string to the last that are there: a short one begins at its peg.
    const under = (at: number): [number, number] | undefined => {
      const near = neck.strings.filter(({ from, to }) => from !== to && at >= Math.min(from, to) - 1e-9 && at <= Math.max(from, to) + 1e-9);
      const all = near.map((string) => y(string.y));
      return all.length ? [Math.min(...all) - 14, Math.max(...all) + 14] : undefined;
    };
    neck.frets.forEach(([, at], index) => {
      const before = neck.frets[index - 1]?.[1] ?? at;
      const [top, bottom] = under((at + before) / 2) ?? [0, 0];
      const left = Math.min(x(at), x(before));
      svg("rect", { class: "wood", x: left, y: top, width: Math.abs(x(at) - x(before)) + 0.5, height: bottom - top }, drawing);
    });
    for (const [at, deep] of neck.dots) svg("circle", { class: "dot", cx: x(at), cy: y(deep), r: 6 }, drawing);
    for (const [number, at] of neck.frets) {
      const nut = number === 0;
      const [top, bottom] = under(at) ?? [];
      if (top === undefined || bottom === undefined) continue;
      svg("line", { class: nut ? "nut" : "fret", x1: x(at), x2: x(at), y1: top, y2: bottom, "stroke-width": nut ? 5 : 2 }, drawing);
    }
    neck.frets.forEach(([number, at], index) => {
      const before = neck.frets[index - 1];
      if (!before) return;
      const label = svg("text", { x: x((at + before[1]) / 2), y: height - 6, "aria-hidden": "true" }, drawing);
      label.textContent = String(number);
    });
    neck.strings.forEach((string) => {
      const thick = 1 + 0.35 * string.number;
      svg("line", { class: "string", x1: x(string.from), x2: x(string.to), y1: y(string.y), y2: y(string.y), "stroke-width": thick }, drawing);
    });
    for (const place of neck.places) {
      if (!place.within || place.open) continue;
      const [from, to] = [x(place.x) - (this.space(neck, place) * across) / 2, x(place.x) + (this.space(neck, place) * across) / 2];
      svg("line", { class: "reach", x1: from, x2: to, y1: y(place.y), y2: y(place.y) }, drawing);
    }
    for (const [at, top, bottom] of neck.capos) {
      svg("line", { class: "capo", x1: x(at), x2: x(at), y1: y(top) - 8, y2: y(bottom) + 8 }, drawing);
    }
    this.places.clear();
    for (const place of neck.places) {
      const cx = x(place.x) + (place.open ? outwards * 26 : 0);
      const cy = y(place.y);
      const group = svg("g", this.onTry ? { role: "button", "data-place": place.place } : {}, drawing);
      const wide = place.open ? this.apart : Math.max(fret, this.space(neck, place) * across);
      svg("rect", { class: "area", x: cx - wide / 2, y: cy - this.apart / 2, width: wide, height: this.apart }, group);
      svg("rect", { class: "ring", x: cx - 20, y: cy - 20, width: 40, height: 40, rx: 8 }, group);
      svg("circle", { class: "spot", cx, cy, r: 13 }, group);
      svg("text", { class: "in", x: cx, y: cy + 5.5, "aria-hidden": "true" }, group);
      this.places.set(place.place, group);
    }
    this.box.replaceChildren(drawing);
    if (this.onTry) byId("slides").hidden = this.box.scrollWidth <= this.box.clientWidth;
  }

  private space(neck: Neck, place: Place): number {
    const fret = Number(place.place.split("/")[1]);
    const at = neck.frets.find(([number]) => number === fret);
    const before = neck.frets.find(([number]) => number === fret - 1);
    return at && before ? Math.abs(at[1] - before[1]) : 0;
  }

  private key(event: KeyboardEvent): void {
    const focused = (event.target as Element).closest<SVGElement>("[data-place]");
    const now = this.of.find((place) => place.place === focused?.dataset["place"]);
    if (!now) return;
    if (event.key === "Enter" || event.key === " ") {
      event.preventDefault();
      this.onTry?.(now.place, event.timeStamp);
      return;
    }
    const to = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }[event.key];
    if (!to) return;
    event.preventDefault();
    const [right = 0, below = 0] = to;
    const away = (place: Place): number =>
      right
        ? (place.x + (place.open ? -0.001 : 0) - now.x) * right * (place.y === now.y ? 1 : NaN)
        : Math.abs(place.x - now.x) + Math.abs(place.y - now.y) * 10 * ((place.y - now.y) * below > 0 ? 1 : NaN);
    const next = this.of
      .filter((place) => place !== now && away(place) > 0)
      .sort((a, b) => away(a) - away(b))[0];
    const drawn = next && this.places.get(next.place);
    if (!next || !drawn) return;
    for (const each of this.places.values()) each.setAttribute("tabindex", "-1");
    drawn.setAttribute("tabindex", "0");
    drawn.focus();
    drawn.scrollIntoView({ block: "nearest", inline: "nearest" });
  }
}
