// What is kept in the browser: the seat with its unmarked answers, for some hours; and the way of it
// from the page over http to the same page over https, whose storage is another.

const STORE = "fifthpeg";
const HOURS_KEPT = 12;
const OVER = "back=";

// What goes from one page to the other, behind the address's "#", which browsers do not send.
export interface Carried {
  kept: string;
  words?: string;
  level: string | null;
  left: string | null;
  headphones: string | null;
}

export function recall(): string | undefined {
  for (const storage of ["localStorage", "sessionStorage"] as const) {
    try {
      const { kept, at } = JSON.parse(window[storage].getItem(STORE) ?? "{}");
      if (typeof kept === "string" && Date.now() - at < HOURS_KEPT * 3_600_000) return kept;
    } catch {
      // Nothing that can be read: a newcomer.
    }
  }
  return undefined;
}

export function keep(kept: string | undefined): void {
  try {
    sessionStorage.removeItem(STORE);
    if (kept) localStorage.setItem(STORE, JSON.stringify({ kept, at: Date.now() }));
    else localStorage.removeItem(STORE);
  } catch {
    // A browser that keeps nothing: a reload comes in anew.
  }
}

export function forget(): void {
  try {
    sessionStorage.clear();
    localStorage.clear();
  } catch {
    // Then nothing was kept.
  }
}

export function remembered(key: string): string | null {
  try {
    return localStorage.getItem(key);
  } catch {
    return null;
  }
}

export function remember(key: string, value: string): void {
  try {
    localStorage.setItem(key, value);
  } catch {
    // It is asked for again after a reload.
  }
}

// The address of this page over https, with the seat. Here it is kept in this tab alone from now on,
// for who turns back at the browser's warning.
export function addressOverHttps(kept: string, words: string | undefined): string {
  const carried: Carried = { kept, words, level: remembered("level"), left: remembered("left"), headphones: remembered("headphones") };
  keep(undefined);
  try {
    sessionStorage.setItem(STORE, JSON.stringify({ kept, at: Date.now() }));
  } catch {
    // Turning back comes in anew.
  }
  const bytes = new TextEncoder().encode(JSON.stringify(carried));
  const text = btoa(String.fromCharCode(...bytes)).replaceAll("+", "-").replaceAll("/", "_").replaceAll("=", "");
  return `https://${location.host}/#${OVER}${text}`;
}

// What came that way; nothing if the fragment is of another kind.
export function broughtBy(fragment: string): Carried | undefined {
  // Over http nothing comes that way: it would be somebody else's link, with somebody else's seat.
  if (location.protocol !== "https:" || !fragment.startsWith(OVER)) return undefined;
  try {
    const text = fragment.slice(OVER.length).replaceAll("-", "+").replaceAll("_", "/");
    const bytes = Uint8Array.from(atob(text), (sign) => sign.charCodeAt(0));
    const carried = JSON.parse(new TextDecoder().decode(bytes)) as Carried;
    if (typeof carried.kept !== "string") return undefined;
    for (const key of ["level", "left", "headphones"] as const) {
      const value = carried[key];
      if (typeof value === "string") remember(key, value);
    }
    return carried;
  } catch {
    return { kept: "", level: null, left: null, headphones: null };
  }
}
