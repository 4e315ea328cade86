// A tick that a busy page and a hidden tab do not hold up: nothing but a timer, in a thread of its own.
const TICK_MS = 25;
setInterval(() => self.postMessage(0), TICK_MS);
