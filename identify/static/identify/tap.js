/* Hands on what the microphone brings, some two thousand numbers at a time. */

class Tap extends AudioWorkletProcessor {
  constructor() {
    super();
    this.block = new Float32Array(2048);
    this.filled = 0;
  }

  process(inputs) {
    const channel = inputs[0] && inputs[0][0];
    if (channel) {
      if (this.filled + channel.length > this.block.length) {
        this.port.postMessage(this.block.slice(0, this.filled));
        this.filled = 0;
      }
      this.block.set(channel, this.filled);
      this.filled += channel.length;
    }
    return true;
  }
}

registerProcessor("tap", Tap);
