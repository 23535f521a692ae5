// Keeps the page current without moving it: fetches it again, puts in what changed, leaves open what was opened.
"use strict";
(() => {
  const seconds = 5;
  const stale = document.getElementById("stale");
  let lastGood = new Date();

  const clock = (time) => time.toTimeString().slice(0, 8);

  const openParts = (main) => new Set([...main.querySelectorAll("details[open]")].map((part) => part.id));

  const update = async () => {
    try {
      const answer = await fetch("/", { cache: "no-store" });
      if (!answer.ok) throw new Error(String(answer.status));
      const next = new DOMParser().parseFromString(await answer.text(), "text/html").getElementById("report");
      const main = document.getElementById("report");
      const selection = document.getSelection();
      const isReading = selection !== null && !selection.isCollapsed;
      const isWriting = [...document.querySelectorAll("input")].some((field) => field.value !== field.defaultValue || field === document.activeElement);
      if (next && main && !isReading && !isWriting) {
        const open = openParts(main);
        for (const part of next.querySelectorAll("details")) part.open = open.has(part.id);
        if (next.innerHTML !== main.innerHTML) {
          const focused = document.activeElement;
          const href = focused instanceof HTMLAnchorElement ? focused.getAttribute("href") : null;
          const within = focused && focused.parentElement ? focused.parentElement.id : "";
          main.replaceChildren(...document.importNode(next, true).childNodes);
          const again = href ? [...main.querySelectorAll("a")].find((link) => link.getAttribute("href") === href)
            : within ? document.querySelector("#" + CSS.escape(within) + " > summary") : null;
          if (again) again.focus({ preventScroll: true });
        }
      }
      lastGood = new Date();
      stale.hidden = true;
    } catch {
      stale.textContent = "No answer from the tool since " + clock(lastGood) + " (by the clock of this device). What stands below is old.";
      stale.hidden = false;
    }
    setTimeout(update, seconds * 1000);
  };

  setTimeout(update, seconds * 1000);
})();
