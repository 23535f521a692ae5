// The time axis under finger, mouse and keys. The server draws; this only asks for another stretch and shows at once where it is going.
"use strict";
(() => {
  const host = document.getElementById("time");
  const settle = 180;
  const farthest = 3660 * 86400e3;
  let from = 0, to = 0, shown = [0, 0], timer = 0, asked = 0, following = 0;

  const part = () => document.getElementById("stretch");
  const axis = () => document.getElementById("axis");
  const drawing = () => axis().querySelector("svg");
  const written = (time) => new Date(Math.round(time / 1000) * 1000).toISOString().replace(".000", "");
  const shortest = () => Number(part().dataset.shortest) * 1000;

  const take = () => {
    shown = [Date.parse(part().dataset.from), Date.parse(part().dataset.to)];
    [from, to] = shown;
    clearTimeout(following);
    const seconds = Number(part().dataset.follow);
    if (seconds > 0) following = setTimeout(() => document.hidden ? take() : ask(location.search, false), seconds * 1000);
  };

  const put = (html) => {
    const hadFocus = document.activeElement === axis();
    const link = document.activeElement && document.activeElement.id.startsWith("step-") ? document.activeElement.id : "";
    const open = new Set([...part().querySelectorAll("details[open]")].map((piece) => piece.id));
    const next = new DOMParser().parseFromString(html, "text/html").getElementById("stretch");
    if (!next) return;
    for (const piece of next.querySelectorAll("details")) piece.open = open.has(piece.id);
    part().replaceWith(document.importNode(next, true));
    wire();
    take();
    const again = hadFocus ? axis() : link ? document.getElementById(link) : null;
    if (again) again.focus({ preventScroll: true });
  };

  /** What was asked for last is what is shown, in whatever order answers come. */
  const ask = async (search, isStep) => {
    const turn = ++asked;
    clearTimeout(following);
    try {
      const answer = await fetch("/time/stretch" + search, { cache: "no-store" });
      if (turn !== asked) return;
      if (!answer.ok) throw new Error(String(answer.status));
      const html = await answer.text();
      if (turn !== asked) return;
      if (isStep) history.pushState(null, "", "/time" + search);
      put(html);
    } catch {
      if (turn === asked) following = setTimeout(() => ask(search, isStep), 5000);
    }
  };

  const search = () => "?from=" + written(from) + "&to=" + written(to);

  /** Shows where it goes before the server has drawn it. */
  const preview = () => {
    const scale = (shown[1] - shown[0]) / (to - from);
    const shift = (shown[0] - from) / (to - from) * drawing().clientWidth;
    drawing().style.transform = "translateX(" + shift + "px) scaleX(" + scale + ")";
    document.getElementById("pointer").hidden = true;
  };

  const go = (begin, end, wait) => {
    const length = Math.min(farthest, Math.max(shortest(), end - begin));
    const middle = (begin + end) / 2;
    from = middle - length / 2;
    to = middle + length / 2;
    if (from < 0) [from, to] = [0, length];
    preview();
    clearTimeout(timer);
    timer = setTimeout(() => ask(search(), true), wait);
  };

  const zoom = (factor, at, wait) => {
    const length = Math.min(farthest, Math.max(shortest(), (to - from) * factor));
    const fixed = from + (to - from) * at;
    go(fixed - length * at, fixed + length * (1 - at), wait);
  };

  const move = (share, wait) => go(from + (to - from) * share, to + (to - from) * share, wait);

  const place = (event) => {
    const box = drawing().parentElement.getBoundingClientRect();
    const padding = parseFloat(getComputedStyle(axis()).paddingLeft);
    return Math.min(1, Math.max(0, (event.clientX - box.left - padding) / (box.width - 2 * padding)));
  };

  const said = (time) => {
    const zone = part().dataset.zone;
    const form = { year: "numeric", month: "short", day: "numeric", hour: "2-digit", minute: "2-digit", second: "2-digit", hourCycle: "h23" };
    try {
      return new Intl.DateTimeFormat("en-GB", { ...form, timeZone: zone }).format(time);
    } catch {
      return written(time);
    }
  };

  const choose = (at) => {
    const time = from + (to - from) * at;
    const pointer = document.getElementById("pointer");
    const padding = parseFloat(getComputedStyle(axis()).paddingLeft);
    pointer.style.left = padding + at * (axis().clientWidth - 2 * padding) + "px";
    pointer.hidden = false;
    const moment = document.getElementById("moment");
    const link = moment.querySelector("a");
    link.href = "/frames?at=" + written(time);
    link.textContent = moment.dataset.text.replace("{0}", said(time));
    moment.hidden = false;
  };

  const wire = () => {
    const figure = axis();
    const fingers = new Map();
    let begun = null, hasMoved = false, lastTap = 0;

    figure.addEventListener("wheel", (event) => {
      if (event.deltaY === 0 && event.deltaX === 0) return;
      event.preventDefault();
      if (Math.abs(event.deltaX) > Math.abs(event.deltaY)) move(event.deltaX / figure.clientWidth, settle);
      else zoom(Math.exp(Math.max(-100, Math.min(100, event.deltaY)) / 250), place(event), settle);
    }, { passive: false });

    figure.addEventListener("pointerdown", (event) => {
      if (event.button !== 0) return;
      fingers.set(event.pointerId, event.clientX);
      if (fingers.size === 1) hasMoved = false;
      begun = { from, to, at: [...fingers.values()] };
    });

    figure.addEventListener("pointermove", (event) => {
      if (!fingers.has(event.pointerId)) return;
      fingers.set(event.pointerId, event.clientX);
      const box = figure.getBoundingClientRect();
      const at = [...fingers.values()];
      if (!hasMoved && Math.max(...at.map((x, finger) => Math.abs(x - begun.at[finger]))) < 6) return;
      if (!hasMoved) {
        hasMoved = true;
        figure.setPointerCapture(event.pointerId);
        figure.classList.add("moving");
      }
      const length = begun.to - begun.from;
      const time = (x) => begun.from + length * (x - box.left) / box.width;
      if (at.length === 1) {
        const by = time(begun.at[0]) - time(at[0]);
        go(begun.from + by, begun.to + by, settle);
      } else {
        const a = time(begun.at[0]);
        const per = (time(begun.at[1]) - a) / (at[1] - at[0]);
        if (!(per > 0) || !Number.isFinite(per)) return;
        const left = a - per * (at[0] - box.left);
        go(left, left + per * box.width, settle);
      }
    });

    const lift = (event) => {
      if (!fingers.delete(event.pointerId)) return;
      begun = fingers.size ? { from, to, at: [...fingers.values()] } : null;
      figure.classList.remove("moving");
      if (hasMoved || event.type === "pointercancel") return;
      if (event.timeStamp - lastTap < 350) zoom(0.5, place(event), 0);
      else choose(place(event));
      lastTap = event.timeStamp;
    };
    figure.addEventListener("pointerup", lift);
    figure.addEventListener("pointercancel", lift);

    figure.addEventListener("keydown", (event) => {
      if (event.ctrlKey || event.altKey || event.metaKey) return;
      const first = Date.parse(part().dataset.first), now = Date.parse(part().dataset.now), length = to - from;
      const acts = {
        ArrowLeft: () => move(-0.25, settle), ArrowRight: () => move(0.25, settle),
        PageUp: () => move(-1, settle), PageDown: () => move(1, settle),
        "+": () => zoom(0.5, 0.5, settle), "=": () => zoom(0.5, 0.5, settle), "-": () => zoom(2, 0.5, settle),
        Home: () => first && go(first, first + length, settle), End: () => now && go(now - length, now, settle),
        Enter: () => choose(0.5),
      };
      if (!acts[event.key]) return;
      event.preventDefault();
      acts[event.key]();
    });

    for (const link of part().querySelectorAll(".steps a, .spans a")) {
      link.addEventListener("click", (event) => {
        if (event.ctrlKey || event.shiftKey || event.metaKey || event.button !== 0) return;
        event.preventDefault();
        clearTimeout(timer);
        ask(new URL(link.href).search, true);
      });
    }
  };

  addEventListener("popstate", () => ask(location.search, false));
  addEventListener("visibilitychange", () => !document.hidden && Number(part().dataset.follow) > 0 && ask(location.search, false));
  if (host && part()) {
    wire();
    take();
  }
})();
