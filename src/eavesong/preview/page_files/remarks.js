// What people say of moments of the song. It is kept in the page's address alone, so that a reply needs no server: whoever
// opens the address that was copied sees the same words at the same moments.
import { timeText } from "./ribbon.js";

const LONGEST = 400, MOST_REMARKS = 60;

// The part of an address behind "#": words for the page itself, and remarks behind "say=".
export function remarksIn(hash) {
  try {
    const text = hash.match(/[#&]say=([\w-]*)/)?.[1] ?? "", bytes = Uint8Array.from(atob(text.replaceAll("-", "+").replaceAll("_", "/")), (c) => c.charCodeAt(0));
    return text ? JSON.parse(new TextDecoder().decode(bytes)).slice(0, MOST_REMARKS).map(([at, words]) => [Number(at) || 0, String(words).slice(0, LONGEST)]) : [];
  } catch { return []; }
}

export function hashOf(remarks, hash) {
  const rest = hash.replace(/^#/, "").split("&").filter((part) => part && !part.startsWith("say="));
  const bytes = new TextEncoder().encode(JSON.stringify(remarks)), text = btoa(String.fromCharCode(...bytes)).replaceAll("+", "-").replaceAll("/", "_").replaceAll("=", "");
  return `#${[...rest, ...(remarks.length ? [`say=${text}`] : [])].join("&")}`;
}

export class Remarks {
  // about: the page's data; clock and ribbon; said: called whenever the list has changed.
  constructor(about, clock, ribbon, said) {
    Object.assign(this, { about, clock, ribbon, said, all: remarksIn(location.hash) });
    const on = (id, act) => document.getElementById(id).addEventListener("click", act);
    on("say", () => this.ask());
    on("remark-keep", () => this.keep());
    on("remark-no", () => document.getElementById("remark").close());
    on("remarks-copy", () => this.copy());
    document.getElementById("remark-text").maxLength = LONGEST;
    addEventListener("hashchange", () => { this.all = remarksIn(location.hash); this.show(); });
    this.show();
  }

  ask() {
    if (this.clock.playing) this.clock.pause();
    this.at = Math.round(this.clock.position * 100) / 100;
    document.getElementById("remark-title").textContent = `At ${timeText(this.at)}, ${this.ribbon.barText(this.ribbon.bar(this.at))}`;
    document.getElementById("remark-text").value = "";
    document.getElementById("remark").showModal();
  }

  keep() {
    const words = document.getElementById("remark-text").value.trim();
    document.getElementById("remark").close();
    if (words && this.all.length < MOST_REMARKS) this.put([...this.all, [this.at, words.slice(0, LONGEST)]].sort((a, b) => a[0] - b[0]));
  }

  put(remarks) {
    this.all = remarks;
    location.replace(hashOf(remarks, location.hash));
    this.show();
  }

  show() {
    const section = document.getElementById("remarks"), list = document.getElementById("remarks-list");
    section.hidden = !this.all.length;
    document.body.classList.toggle("remarked", this.all.length > 0);
    list.replaceChildren(...this.all.map((remark) => this.row(remark)));
    this.ribbon.remarks = this.all.map(([at]) => at);
    this.said?.();
  }

  row(remark) {
    const [at, words] = remark, row = document.createElement("li"), go = document.createElement("button"), away = document.createElement("button"), time = document.createElement("small");
    go.type = away.type = "button";
    time.textContent = timeText(at);
    go.append(time, words);
    go.addEventListener("click", () => this.clock.seek(at));
    away.className = "quiet";
    away.textContent = "\u00d7";
    away.setAttribute("aria-label", `Take away what was said at ${timeText(at)}`);
    away.addEventListener("click", () => this.put(this.all.filter((other) => other !== remark)));
    row.append(go, away);
    return row;
  }

  // The words with their moments, for people, and the address that holds them, for the page.
  get reply() { return [...this.all.map(([at, words]) => `${timeText(at)}  ${words}`), "", location.href].join("\n"); }

  async copy() {
    const button = document.getElementById("remarks-copy"), box = document.getElementById("remarks-reply");
    try { await navigator.clipboard.writeText(this.reply); button.textContent = "Copied"; } catch {
      [box.hidden, box.value] = [false, this.reply];
      box.select();
      button.textContent = "Copy the text below";
    }
  }
}
