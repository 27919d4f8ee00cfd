// The page's clock: microseconds from an hour before it was loaded.

const LEAD_MS = 3_600_000;

export function now(): number {
  return moment(performance.now());
}

export function moment(ms: number): number {
  return Math.round((ms + LEAD_MS) * 1000);
}

export function milliseconds(us: number): number {
  return us / 1000 - LEAD_MS;
}

let apart = Date.now() - performance.now();

// A monotonic clock stands still while most machines sleep; the wall clock does not.
export function slept(): boolean {
  const before = apart;
  apart = Date.now() - performance.now();
  return apart - before > 250;
}
