// Runs beside the audio clock: passes what the microphone hears on to the page, in blocks, each with
// the number of its first frame. Each wakes the page: few long ones cost less.

registerProcessor("listen", class extends AudioWorkletProcessor {
  block = new Float32Array(2048);
  filled = 0;

  process(inputs) {
    const heard = inputs[0]?.[0];
    if (!heard) return true;
    this.block.set(heard, this.filled);
    this.filled += heard.length;
    if (this.filled === this.block.length) {
      const first = currentFrame + heard.length - this.filled;
      this.port.postMessage({ block: this.block, first }, [this.block.buffer]);
      this.block = new Float32Array(2048);
      this.filled = 0;
    }
    return true;
  }
});
