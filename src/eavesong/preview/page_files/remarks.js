// What people say of moments of the song. It is kept in the page's address alone, so that a reply needs no server: whoever
// opens the address that was copied sees the same words at the same moments. The address also says which page they are
// of: another house's or song's page says so, and shows them at no moment of its own.
import { timeText } from "./ribbon.js";

const LONGEST = 400, MOST_REMARKS = 60;

// The part of an address behind "#": words for the page itself, and remarks behind "say=". of: the mark of the page they
// were said on, and what people call it; nothing where the address does not tell.
export function remarksIn(hash) {
  try {
    const text = hash.match(/[#&]say=([\w-]*)/)?.[1] ?? "", bytes = Uint8Array.from(atob(text.replaceAll("-", "+").replaceAll("_", "/")), (c) => c.charCodeAt(0));
    const { of, say } = text ? JSON.parse(new TextDecoder().decode(bytes)) : { say: [] };
    return { of: of?.map((each) => String(each).slice(0, LONGEST)), all: say.slice(0, MOST_REMARKS).map(([at, words]) => [Number(at) || 0, String(words).slice(0, LONGEST)]) };
  } catch { return { all: [] }; }
}

export function hashOf(remarks, hash, of) {
  const rest = hash.replace(/^#/, "").split("&").filter((part) => part && !part.startsWith("say="));
  const bytes = new TextEncoder().encode(JSON.stringify({ of, say: remarks })), text = btoa(String.fromCharCode(...bytes)).replaceAll("+", "-").replaceAll("/", "_").replaceAll("=", "");
  return `#${[...rest, ...(remarks.length ? [`say=${text}`] : [])].join("&")}`;
}

export class Remarks {
  // about: the page's data; clock and ribbon; said: called whenever the list has changed.
  constructor(about, clock, ribbon, said) {
    Object.assign(this, { about, clock, ribbon, said });
    const on = (id, act) => document.getElementById(id).addEventListener("click", act);
    on("say", () => this.ask());
    on("remark-keep", () => this.keep());
    on("remark-no", () => document.getElementById("remark").close());
    on("remarks-copy", () => this.copy());
    document.getElementById("remark-text").maxLength = LONGEST;
    addEventListener("hashchange", () => this.read());
    this.read();
  }

  // What the address holds; other: what the page is called that it was said on, where that is not this one.
  read() {
    const { of, all } = remarksIn(location.hash);
    Object.assign(this, { all, other: of && of[0] !== this.about.of[0] ? of[1] : "" });
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
    if (words && this.all.length < MOST_REMARKS) this.put([...(this.other ? [] : this.all), [this.at, words.slice(0, LONGEST)]].sort((a, b) => a[0] - b[0]));
  }

  put(remarks) {
    Object.assign(this, { all: remarks, other: "" });
    location.replace(hashOf(remarks, location.hash, this.about.of));
    this.show();
  }

  show() {
    const section = document.getElementById("remarks"), list = document.getElementById("remarks-list");
    section.hidden = !this.all.length;
    document.body.classList.toggle("remarked", this.all.length > 0);
    list.replaceChildren(...this.all.map((remark) => this.row(remark)));
    document.getElementById("remarks-other").hidden = !this.other;
    document.getElementById("remarks-copy").hidden = Boolean(this.other);
    document.getElementById("remarks-other").textContent = `This was said on another page, ${this.other}. Open the address with that one.`;
    this.ribbon.remarks = this.other ? [] : this.all.map(([at]) => at);
    this.said?.();
  }

  row(remark) {
    const [at, words] = remark, row = document.createElement("li"), go = document.createElement("button"), away = document.createElement("button"), time = document.createElement("small");
    go.type = away.type = "button";
    time.textContent = timeText(at);
    go.append(time, words);
    go.disabled = Boolean(this.other);
    go.addEventListener("click", () => this.clock.seek(at));
    away.className = "quiet";
    away.textContent = "\u00d7";
    away.setAttribute("aria-label", `Take away what was said at ${timeText(at)}`);
    away.addEventListener("click", () => this.put(this.all.filter((each) => each !== remark)));
    away.hidden = Boolean(this.other);
    row.append(go, away);
    return row;
  }

  // The words with their moments, for people, and the address that holds them, for the page.
  get reply() { return [this.about.of[1], ...this.all.map(([at, words]) => `${timeText(at)}  ${words}`), "", location.href].join("\n"); }

  async copy() {
    const button = document.getElementById("remarks-copy"), box = document.getElementById("remarks-reply");
    try { await navigator.clipboard.writeText(this.reply); button.textContent = "Copied"; } catch {
      [box.hidden, box.value] = [false, this.reply];
      box.select();
      button.textContent = "Copy the text below";
    }
  }
}
