// What the program says that there is to see (view.rs of the page).

export interface Place {
  place: string;
  x: number;
  y: number;
  open: boolean;
  within: boolean;
  sign: string;
  words: string;
}

export interface Neck {
  frets: [number, number][];
  strings: { number: number; y: number; from: number; to: number }[];
  dots: [number, number][];
  capos: [number, number, number][];
  places: Place[];
  narrowest: number;
  left_handed: boolean;
}

export interface View {
  standing: "coming" | "words" | "in" | "lost" | "over";
  link: string;
  lesson: string;
  search: string;
  name: string;
  locked: boolean;
  host: string;
  now: string;
  refusal: string;
  call: number;
  stage: "none" | "open" | "revealed" | "closed";
  can_hear: boolean;
  can_answer: boolean;
  you_call: boolean;
  your_turn: boolean;
  friends: boolean;
  tried: string[];
  tally: string;
  may_use_microphone: boolean;
  listening: string;
  heard: string;
  heard_order: "" | "answer" | "call";
  place_wanted: boolean;
  neck: Neck | null;
}

export interface HallView {
  standing: View["standing"];
  link: string;
  lesson: string;
  reach: string;
  now: string;
  found: string;
  names: string[];
  neck: Neck | null;
}

export function byId<T extends HTMLElement>(id: string): T {
  const found = document.getElementById(id);
  if (!found) throw new Error(`no ${id} on this page`);
  return found as T;
}
