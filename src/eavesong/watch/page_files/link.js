// The socket to the studio: it is opened again by itself when it is lost, and everything is told anew then.
export class Link {
  constructor(heard, drawn, changed) {
    Object.assign(this, { heard, drawn, changed, socket: null, open: false, wait: 200 });
    this.connect();
    addEventListener("online", () => this.connect());
    document.addEventListener("visibilitychange", () => { if (!document.hidden) this.connect(); });
  }

  connect() {
    if (this.socket && this.socket.readyState <= WebSocket.OPEN) return;
    const address = new URL("live", location.href);
    address.protocol = "ws:";
    const socket = this.socket = new WebSocket(address);
    socket.binaryType = "arraybuffer";
    socket.onopen = () => { this.open = true; this.wait = 200; this.changed(true); };
    socket.onmessage = ({ data }) => (typeof data === "string" ? this.heard(JSON.parse(data)) : this.drawn(data));
    socket.onclose = () => {
      if (socket !== this.socket) return;
      const before = this.open;
      this.open = false;
      this.changed(false, before);
      setTimeout(() => this.connect(), this.wait);
      this.wait = Math.min(2000, this.wait * 1.5);
    };
  }

  say(message) { if (this.open) this.socket.send(JSON.stringify(message)); }
}
