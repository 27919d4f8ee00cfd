// Tones on the browser's audio clock.

import { milliseconds, moment } from "./clock";

// How far the start of a tone may be off, in microseconds: where the browser names
// the instant at which a sample leaves it, where it names its delay alone, and where
// it says nothing. Common practice, no source; headphones by radio may be later still.
const STAMPED_US = 30_000;
const DELAY_US = 60_000;
const UNKNOWN_US = 150_000;

const PATIENCE_MS = 1500;

export interface Started {
  at: number;
  uncertainty: number;
}

export class Sound {
  context: AudioContext | null = null;
  private last: GainNode | null = null;

  // Only within a tap. A context that a lock screen froze is left, and another made.
  async unlock(): Promise<void> {
    if (this.context && this.context.state !== "running") {
      void this.context.close().catch(() => undefined);
      this.context = null;
    }
    if (!this.context) {
      this.context = new AudioContext({ latencyHint: "interactive" });
      if (this.context.sampleRate < 32_000 || this.context.sampleRate > 192_000) {
        void this.context.close();
        this.context = new AudioContext({ latencyHint: "interactive", sampleRate: 48_000 });
      }
    }
    // Without a device some browsers never say whether it runs.
    const patience = new Promise((done) => setTimeout(done, PATIENCE_MS));
    await Promise.race([this.context.resume(), patience]);
  }

  get works(): boolean {
    return this.context?.state === "running";
  }

  get rate(): number {
    return this.context?.sampleRate ?? 48_000;
  }

  // Plays samples whose first is to leave at that moment; tells when it does.
  play(samples: Float32Array<ArrayBuffer>, at: number): Started | null {
    const context = this.context;
    if (!context || context.state !== "running" || samples.length === 0) return null;
    const buffer = context.createBuffer(1, samples.length, context.sampleRate);
    buffer.copyToChannel(samples, 0);
    const source = context.createBufferSource();
    source.buffer = buffer;
    const gain = context.createGain();
    source.connect(gain).connect(context.destination);

    const { base, perf, uncertainty } = this.relation(context);
    const wanted = base + (milliseconds(at) - perf) / 1000;
    const start = Math.max(wanted, context.currentTime + 0.003);
    // One tone at a time: two together could clip.
    this.last?.gain.setTargetAtTime(0, start, 0.01);
    this.last = gain;
    source.start(start);
    return { at: moment(perf + (start - base) * 1000), uncertainty };
  }

  // An instant of the audio clock, and when it is heard on the page's.
  private relation(context: AudioContext): { base: number; perf: number; uncertainty: number } {
    const stamp = context.getOutputTimestamp?.();
    const perf = stamp?.performanceTime ?? 0;
    const base = stamp?.contextTime ?? 0;
    if (perf > 0 && base > 0 && base <= context.currentTime + 0.1 && performance.now() - perf < 500) {
      return { base, perf, uncertainty: STAMPED_US };
    }
    const known = context.outputLatency > 0;
    const delay = known ? context.outputLatency : (context.baseLatency ?? 0);
    return {
      base: context.currentTime,
      perf: performance.now() + delay * 1000,
      uncertainty: known ? DELAY_US : UNKNOWN_US,
    };
  }
}
