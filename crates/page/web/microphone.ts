// The phone's microphone, raw as far as the phone gives it so, as blocks for the program.

import { moment } from "./clock";

// How long sound takes from the air to the page beyond what the browser says, and how far that may be
// off, in microseconds. Chromium holds up to ten buffers of 10 ms before the audio graph
// (webaudio_media_stream_audio_sink.cc), another each time that it was late, and tells nothing of them:
// recorded, sound came 5 to 123 ms later than it was said to.
const BEYOND_MS = 60;
const OFF_US = 90_000;
// Blocks come late at times and never early: the earliest of so many is on time.
const BLOCKS = 128;

export interface Heard {
  samples: Float32Array;
  at: number;
  uncertainty: number;
  lost: number;
}

export class Microphone {
  // What is to be said of it: that it cannot be had, or is not raw.
  note = "";
  private stream: MediaStream | null = null;
  private nodes: AudioNode[] = [];
  private context: AudioContext | null = null;
  private next = 0;
  private late: number[] = [];
  // The phone took it away: a call came, or leave was withdrawn.
  ended = false;

  get isOpen(): boolean {
    return this.stream !== null;
  }

  // In the clear a browser gives none.
  static get canBeHad(): boolean {
    return window.isSecureContext && navigator.mediaDevices !== undefined && "AudioWorkletNode" in window;
  }

  async open(context: AudioContext, hears: (heard: Heard) => boolean): Promise<boolean> {
    this.close();
    let stream: MediaStream | undefined;
    try {
      const audio = { echoCancellation: false, noiseSuppression: false, autoGainControl: false };
      stream = await navigator.mediaDevices.getUserMedia({ audio });
      const track = stream.getAudioTracks()[0];
      const given = track?.getSettings() as MediaTrackSettings & { latency?: number };
      const changed = [given.echoCancellation, given.noiseSuppression, given.autoGainControl].some((on) => on === true);
      this.ended = false;
      if (track) track.onended = () => (this.ended = true);
      this.note = changed ? "This phone changes the sound before the page gets it: soft plucks may be missed." : "";
      await context.audioWorklet.addModule(document.body.dataset["listen"] ?? "");
      const source = context.createMediaStreamSource(stream);
      const listen = new AudioWorkletNode(context, "listen", { numberOfOutputs: 0, channelCount: 1, channelCountMode: "explicit" });
      const onItsWay = (given.latency ?? 0) * 1000 + BEYOND_MS;
      this.next = 0;
      this.late = [];
      listen.port.onmessage = (event: MessageEvent<{ block: Float32Array; first: number }>) => {
        const { block, first } = event.data;
        if (!this.stream) return;
        const end = ((first + block.length) / context.sampleRate) * 1000;
        this.late.push(performance.now() - end);
        if (this.late.length > BLOCKS) this.late.shift();
        const began = (first / context.sampleRate) * 1000 + Math.min(...this.late);
        const taken = hears({
          samples: block,
          at: moment(began - onItsWay),
          uncertainty: OFF_US,
          lost: this.next === 0 ? 0 : first - this.next,
        });
        if (taken) this.next = first + block.length;
      };
      source.connect(listen);
      this.nodes = [source, listen];
      this.stream = stream;
      this.context = context;
      return true;
    } catch (error) {
      for (const track of stream?.getTracks() ?? []) track.stop();
      const refused = error instanceof DOMException && error.name === "NotAllowedError";
      this.note = refused
        ? "This page may not use the microphone. Allow it in the browser, then try again."
        : `There is no microphone that this page can use (${error instanceof Error ? error.name : error}).`;
      return false;
    }
  }

  // Between calls nothing is heard but silence.
  attend(listens: boolean): void {
    for (const track of this.stream?.getAudioTracks() ?? []) track.enabled = listens;
  }

  belongsTo(context: AudioContext | null): boolean {
    return this.context === context;
  }

  close(): void {
    for (const track of this.stream?.getTracks() ?? []) track.stop();
    for (const node of this.nodes) node.disconnect();
    this.stream = null;
    this.nodes = [];
    this.context = null;
  }
}
