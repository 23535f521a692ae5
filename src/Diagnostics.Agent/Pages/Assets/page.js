// Keeps the page current without moving it: pieces that changed come in a stream, and what is being read, opened or written stays as it is.
"use strict";
(() => {
  const main = document.getElementById("report");
  const stale = document.getElementById("stale");
  const silence = 20;
  const pause = 30;
  const waiting = new Map();
  let lastGood = new Date();
  let stream = null;

  const clock = (time) => time.toTimeString().slice(0, 8);

  const heard = () => {
    lastGood = new Date();
    stale.hidden = true;
  };

  /** Somebody selects text in it, or writes in one of its fields. */
  const inUse = (piece) => {
    const selection = document.getSelection();
    const isReading = selection !== null && !selection.isCollapsed && piece.contains(selection.anchorNode);
    const isWriting = [...piece.querySelectorAll("input, textarea, select")].some((field) =>
      field === document.activeElement
      || (field instanceof HTMLSelectElement ? field.selectedIndex !== Math.max(0, [...field.options].findIndex((option) => option.defaultSelected))
        : field.type === "checkbox" || field.type === "radio" ? field.checked !== field.defaultChecked
        : field.type !== "hidden" && field.value !== field.defaultValue));
    return isReading || isWriting;
  };

  /** What does the same as another part, in the order of the page: the focus goes back to the one that stands for it. */
  const alike = (piece, part) => {
    const meant = (each) => [each.tagName, each.getAttribute("href"), each.id, each.name, each.parentElement.id, each.form && each.form.getAttribute("action")].join(" ");
    return [...piece.querySelectorAll(part.tagName)].filter((each) => meant(each) === meant(part));
  };

  const put = ({ id, digest, html }) => {
    const piece = document.getElementById("piece-" + id);
    if (!piece) return;
    if (inUse(piece)) {
      waiting.set(id, { id, digest, html });
      return;
    }
    waiting.delete(id);
    const open = new Set([...piece.querySelectorAll("details[open]")].map((part) => part.id));
    const focused = piece.contains(document.activeElement) ? document.activeElement : null;
    const rank = focused ? alike(piece, focused).indexOf(focused) : 0;
    const next = new DOMParser().parseFromString(html, "text/html").body;
    for (const part of next.querySelectorAll("details")) part.open = part.open || open.has(part.id);
    piece.replaceChildren(...document.importNode(next, true).childNodes);
    piece.dataset.digest = digest;
    const again = focused && alike(piece, focused)[rank];
    if (again) again.focus({ preventScroll: true });
  };

  const pieces = () => [...main.querySelectorAll(":scope > .piece")];

  /** The whole page, for when the stream can't be had or the page has other pieces than before. */
  const fetchAnew = async () => {
    const answer = await fetch(location.href, { cache: "no-store" });
    if (!answer.ok) throw new Error(String(answer.status));
    const next = new DOMParser().parseFromString(await answer.text(), "text/html");
    const fresh = [...next.querySelectorAll("#report > .piece")];
    const ids = (list) => list.map((piece) => piece.id).join();
    if (ids(fresh) === ids(pieces())) {
      for (const piece of fresh) {
        if (document.getElementById(piece.id).dataset.digest !== piece.dataset.digest) {
          put({ id: piece.id.slice("piece-".length), digest: piece.dataset.digest, html: piece.innerHTML });
        }
      }
    } else if (!pieces().some(inUse)) {
      main.replaceChildren(...document.importNode(next.getElementById("report"), true).childNodes);
    }
    heard();
  };

  const listen = () => {
    const have = pieces().map((piece) => piece.dataset.digest).join();
    stream = new EventSource("/live?of=" + encodeURIComponent(main.dataset.path) + "&have=" + have);
    stream.addEventListener("piece", (event) => {
      heard();
      put(JSON.parse(event.data));
    });
    stream.addEventListener("here", heard);
    stream.addEventListener("anew", () => again(1));
    stream.addEventListener("error", () => again(stream.readyState === EventSource.CLOSED ? pause : 3));
  };

  const again = (seconds) => {
    stream.close();
    setTimeout(() => fetchAnew().then(listen, () => again(pause / 6)), seconds * 1000);
  };

  setInterval(() => {
    for (const piece of [...waiting.values()]) put(piece);
    if (new Date() - lastGood > silence * 1000) {
      stale.textContent = stale.dataset.text.replace("{0}", clock(lastGood));
      stale.hidden = false;
    }
  }, 1000);

  addEventListener("pagehide", () => stream && stream.close());
  addEventListener("pageshow", (event) => event.persisted && location.reload());
  listen();
})();
