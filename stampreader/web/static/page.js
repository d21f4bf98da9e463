/* What the browser adds to the pages: keys, large pictures, what was seen, photos sent at once.
   It decides nothing; every answer is a form that the program understands. */
"use strict";

(() => {
  const one = (what, where = document) => where.querySelector(what);
  const all = (what, where = document) => [...where.querySelectorAll(what)];
  const asking = one("#asking");

  /* --- windows over the page ----------------------------------------------------------- */
  const topDialog = () => all("dialog[open]").pop() || null;

  document.addEventListener("click", (event) => {
    const button = event.target.closest("[data-open], [data-close], [data-shut]");
    if (!button) return;
    if (button.dataset.open) {
      const dialog = one("#" + button.dataset.open);
      dialog.showModal();
      one("input:not([type=hidden])", dialog)?.focus();
    } else if ("close" in button.dataset) {
      button.closest("dialog").close();
    } else {
      leaveCorrection();
    }
  });

  /* --- a picture that can be made larger and turned -------------------------------------- */
  function viewer(box) {
    const frame = one(".frame", box);
    const state = { zoom: 1, turn: 0 };
    let sheet = null;

    function lay() {
      const paper = one(".paper", frame);
      const image = paper && one("img", paper);
      if (!image || !image.naturalWidth || !frame.clientWidth) return;
      if (!sheet || paper.parentElement !== sheet) {
        sheet = document.createElement("div");
        sheet.className = "sheet";
        paper.replaceWith(sheet);
        sheet.append(paper);
      }
      const shape = image.naturalWidth / image.naturalHeight;
      const lying = state.turn % 180 === 0;
      const seen = lying ? shape : 1 / shape;
      frame.classList.toggle("enlarged", state.zoom > 1 || !lying);
      const strip = getComputedStyle(frame).height === "auto" || frame.closest(".wide");
      const space = strip && state.zoom === 1 && lying ? Infinity : frame.clientHeight;
      const most = strip ? parseFloat(getComputedStyle(frame).maxHeight) : Infinity;
      const wide = Math.min(frame.clientWidth, Math.min(space, most) * seen) * state.zoom;
      const high = wide / seen;
      sheet.style.width = wide + "px";
      sheet.style.height = high + "px";
      sheet.style.top = Math.max(0, (frame.clientHeight - high) / 2) + "px";
      paper.style.width = (lying ? wide : high) + "px";
      paper.style.height = (lying ? high : wide) + "px";
      paper.style.transform = `translate(-50%, -50%) rotate(${state.turn}deg)`;
    }

    function zoom(by) {
      const before = state.zoom;
      const x = (frame.scrollLeft + frame.clientWidth / 2) / Math.max(frame.scrollWidth, 1);
      const y = (frame.scrollTop + frame.clientHeight / 2) / Math.max(frame.scrollHeight, 1);
      state.zoom = Math.min(8, Math.max(1, before * by));
      lay();
      frame.scrollLeft = x * frame.scrollWidth - frame.clientWidth / 2;
      frame.scrollTop = y * frame.scrollHeight - frame.clientHeight / 2;
    }

    box.addEventListener("click", (event) => {
      const tool = event.target.closest("[data-zoom], [data-turn], [data-boxes]");
      if (!tool) return;
      if (tool.dataset.zoom) zoom(tool.dataset.zoom === "in" ? 1.5 : 1 / 1.5);
      else if ("turn" in tool.dataset) { state.turn = (state.turn + 90) % 360; lay(); }
      else {
        const hidden = box.classList.toggle("no-boxes");
        tool.setAttribute("aria-pressed", String(!hidden));
      }
    });

    let grip = null;
    frame.addEventListener("pointerdown", (event) => {
      if (event.pointerType === "mouse") grip = { x: event.clientX + frame.scrollLeft, y: event.clientY + frame.scrollTop };
    });
    frame.addEventListener("pointermove", (event) => {
      if (!grip) return;
      frame.scrollLeft = grip.x - event.clientX;
      frame.scrollTop = grip.y - event.clientY;
    });
    for (const end of ["pointerup", "pointerleave"]) frame.addEventListener(end, () => { grip = null; });

    box.addEventListener("load", lay, true);
    box.addEventListener("error", (event) => {
      const told = event.target.dataset?.gone;
      if (told) frame.replaceChildren(Object.assign(document.createElement("p"), { className: "notice", textContent: told }));
    }, true);
    window.addEventListener("resize", lay);
    lay();
    return { show() { state.zoom = 1; state.turn = 0; sheet = null; lay(); } };
  }
  const viewers = new Map(all("[data-viewer]").map((box) => [box, viewer(box)]));

  document.addEventListener("click", async (event) => {
    const link = event.target.closest("a[data-whole]");
    const dialog = one("#whole");
    if (!link || !dialog) return;
    event.preventDefault();
    const answer = await fetch(link.href);
    const found = one("[data-viewer]", new DOMParser().parseFromString(await answer.text(), "text/html"));
    const inside = one(".inside", dialog);
    inside.replaceChildren(found || document.createTextNode("The photo cannot be shown."));
    dialog.showModal();
    if (found) viewer(found);
  });

  /* --- a group: as large as fits, and nothing confirmed that was not on the screen -------- */
  const MOST_SCREENS = 4;
  const SETTLE_MS = 450; /* a picture counts once it stood still on the screen so long */
  const seen = new Set();
  const wall = one("#wall");
  let cells = wall ? all(".cell", wall) : [];
  const members = asking ? Number(asking.dataset.count) : 0;
  const main = one("#main");
  const confirmButton = one("#confirm");
  const scrolls = () => (getComputedStyle(main).overflowY === "auto" ? main : null);

  function room() {
    const box = scrolls();
    if (box) return box.clientHeight;
    return window.innerHeight;
  }

  function layWall() {
    if (!wall) return;
    const shapes = all("img[width]", wall).map((i) => i.getAttribute("width") / i.getAttribute("height")).sort((a, b) => a - b);
    const shape = Math.min(5, Math.max(1.5, shapes[Math.floor(shapes.length / 2)] || 2));
    const foot = one("label", cells[0])?.offsetHeight || 50;
    const width = wall.clientWidth, gap = 11, box = scrolls();
    const head = box ? wall.getBoundingClientRect().top - box.getBoundingClientRect().top + box.scrollTop : 0;
    const screens = (count) => {
      const high = ((width + gap) / count - gap) / shape + foot + gap;
      const rows = (space) => Math.max(0, Math.floor((space + gap - 4) / high));
      const left = members - count * rows(room() - head);
      return left <= 0 ? 1 : 1 + Math.ceil(left / (count * Math.max(1, rows(room()))));
    };
    const most = (least) => Math.max(1, Math.floor((width + gap) / (least + gap)));
    const fewest = (count) => Math.min(...Array.from({ length: count }, (_, n) => screens(n + 1)));
    const goal = Math.max(fewest(most(width < 700 ? 165 : 260)), Math.min(MOST_SCREENS, fewest(most(150))));
    let across = 1;
    while (across < most(150) && screens(across) > goal) across++;
    wall.style.setProperty("--across", across);
    wall.style.setProperty("--shape", shape);
    wall.classList.add("laid");
  }

  const loaded = (cell) => all("img", cell).every((image) => image.complete && image.naturalWidth);

  function lookAround() {
    const box = scrolls();
    const frame = box ? box.getBoundingClientRect() : { top: 0, bottom: window.innerHeight };
    for (const cell of cells) {
      const place = cell.getBoundingClientRect();
      const there = place.top >= frame.top - 2 && place.bottom <= frame.bottom + 2 && loaded(cell);
      if (stood(cell, there)) {
        seen.add(cell.dataset.keyOf);
        cell.classList.add("seen");
      }
    }
    tell();
  }

  const since = new Map();
  let again = 0;
  function stood(what, there) {
    if (!there) { since.delete(what); return false; }
    if (!since.has(what)) since.set(what, performance.now());
    const left = SETTLE_MS - (performance.now() - since.get(what));
    if (left <= 0) return true;
    if (!again) again = setTimeout(() => { again = 0; (wall ? lookAround : lookAtOne)(); }, left + 10);
    return false;
  }

  function tell() {
    if (!confirmButton) return;
    one("#seen").value = [...seen].join(",");
    if (!wall) {
      confirmButton.classList.toggle("more", !seen.size);
      confirmButton.setAttribute("aria-disabled", String(!seen.size));
      return;
    }
    const left = members - seen.size;
    one("span", confirmButton).textContent = left ? `Show more: ${seen.size} of ${members} seen` : `Confirm all ${members}`;
    confirmButton.classList.toggle("more", left > 0);
  }

  function showMore() {
    const next = cells.find((cell) => !seen.has(cell.dataset.keyOf));
    if (!next) return;
    if (!loaded(next)) for (const image of all("img", next)) image.loading = "eager";
    const box = scrolls();
    const top = next.getBoundingClientRect().top;
    if (box) box.scrollTop += top - box.getBoundingClientRect().top - 4;
    else window.scrollBy(0, top - 4);
  }

  /* One connector: its pictures are the head of the page. */
  function lookAtOne() {
    const pictures = one(".pictures");
    if (pictures && stood(pictures, loaded(pictures))) seen.add(asking.dataset.member);
    tell();
  }

  if (wall) {
    layWall();
    (scrolls() || window).addEventListener("scroll", lookAround, { passive: true });
    wall.addEventListener("load", lookAround, true);
    window.addEventListener("resize", () => { layWall(); lookAround(); });
    lookAround();
    if (wall.dataset.rest) fetchRest();
  } else if (asking && confirmButton) {
    one(".pictures")?.addEventListener("load", lookAtOne, true);
    lookAtOne();
  }

  async function fetchRest() {
    const answer = await fetch(wall.dataset.rest).catch(() => null);
    if (!answer?.ok) { location.replace(asking.dataset.here); return; }
    const found = new DOMParser().parseFromString(await answer.text(), "text/html");
    wall.append(...all(".cell", found));
    cells = all(".cell", wall);
    lookAround();
  }

  const answer = one("#answer");
  let sent = false;
  document.addEventListener("submit", (event) => {
    const by = event.submitter;
    if (event.target === answer && unnoted()) {
      event.preventDefault();
      one("#unnoted").hidden = false;
      one("button.main", correct).focus();
      return;
    }
    if (event.target === answer && by === confirmButton) {
      const missing = wall ? members - seen.size : seen.size ? 0 : 1;
      if (missing) {
        event.preventDefault();
        if (wall) showMore();
        return;
      }
    }
    if (event.target === answer && by?.id === "take-out" && !all(":checked", wall).length) {
      event.preventDefault();
      const at = cells.find((cell) => cell.contains(document.activeElement));
      if (at) one("input", at).checked = true;
      else { one("input", cells[0]).focus(); return; }
      answer.requestSubmit(by);
      return;
    }
    if (sent && event.target.method === "post") { event.preventDefault(); return; }
    if (event.target.method === "post" && asking) sent = true;
  });
  window.addEventListener("pageshow", () => { sent = false; });

  function count() {
    const chosen = wall ? all(":checked", wall).length : 0;
    const told = one("#take-out .count");
    if (told) told.textContent = chosen ? String(chosen) : "";
  }
  wall?.addEventListener("change", count);
  count();

  /* --- the large picture of one of a group ----------------------------------------------- */
  const large = one("#viewer");
  let at = 0;
  function enlarge(index) {
    at = (index + cells.length) % cells.length;
    const button = one("[data-view]", cells[at]);
    if (!button) return;
    const box = one("[data-viewer]", large);
    one(".frame", box).replaceChildren(one(".paper", button).cloneNode(true));
    one(".name", box).textContent = `${at + 1} of ${cells.length}: ${button.dataset.name}`;
    one("[data-whole]", box).href = `${document.body.dataset.base}/whole/${button.dataset.photo}`;
    if (!large.open) large.showModal();
    for (const image of all("img", box)) image.loading = "eager";
    viewers.get(box).show();
  }
  wall?.addEventListener("click", (event) => {
    const button = event.target.closest("[data-view]");
    if (button) enlarge(cells.indexOf(button.closest(".cell")));
  });
  large?.addEventListener("click", (event) => {
    const step = event.target.closest("[data-step]");
    if (step) enlarge(at + Number(step.dataset.step));
  });
  large?.addEventListener("close", () => one("input", cells[at])?.focus());

  function across() {
    const columns = getComputedStyle(wall).gridTemplateColumns.split(" ").length;
    return { ArrowRight: 1, ArrowLeft: -1, ArrowDown: columns, ArrowUp: -columns };
  }
  function move(event) {
    const by = across()[event.key];
    if (!by) return false;
    const from = cells.findIndex((cell) => cell.contains(document.activeElement));
    const to = from < 0 ? 0 : Math.min(cells.length - 1, Math.max(0, from + by));
    one("input", cells[to]).focus();
    cells[to].scrollIntoView({ block: "nearest" });
    return true;
  }

  /* --- keys ------------------------------------------------------------------------------ */
  const typing = (target) => target.closest("input:not([type=checkbox]):not([type=range]), textarea, select");
  const pressable = (target) => target.closest("button, a, summary, input[type=file]");
  const shown = (element) => element.getClientRects().length > 0;

  document.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.altKey || event.metaKey || event.defaultPrevented) return;
    const dialog = topDialog();
    if (event.key === "Escape" && !dialog) {
      if (correct?.open) leaveCorrection();
      return;
    }
    if (typing(event.target)) return;
    if (document.documentElement.dataset.keys === "off") return;
    const key = event.key === "=" ? "+" : event.key.toLowerCase();
    if (key === "enter") {
      if (pressable(event.target) || event.repeat) return;
    } else if (dialog === large && large && /^arrow(left|right)$/.test(key) && !event.target.closest(".frame")) {
      enlarge(at + (key === "arrowleft" ? -1 : 1));
      event.preventDefault();
      return;
    } else if (wall && !dialog && !event.target.closest(".frame") && move(event)) {
      event.preventDefault();
      return;
    }
    if (key === "z" && wall && !dialog) {
      const now = cells.findIndex((cell) => cell.contains(document.activeElement));
      enlarge(Math.max(0, now));
      return;
    }
    if (/^[123]$/.test(key) && !dialog && one(`[data-figure="${key}"]`)) {
      openCorrection(key);
      event.preventDefault();
      return;
    }
    const target = all(`[data-key="${CSS.escape(key)}"]`, dialog || document).find(shown);
    if (!target) return;
    event.preventDefault();
    target.click();
  });

  /* --- correcting ------------------------------------------------------------------------ */
  const correct = one("#correct");
  const typedFields = () => (correct ? all("[data-shown]", correct) : []);
  const unnoted = () => correct?.open && typedFields().some((field) => field.value.trim() !== field.dataset.shown);
  function leaveCorrection() {
    for (const field of typedFields()) field.value = field.dataset.shown;
    one("#unnoted").hidden = true;
    correct.open = false;
    main.focus();
  }
  function openCorrection(number) {
    if (!correct) return;
    correct.open = true;
    const doubtful = one(".figure.is-ask, .figure.is-none");
    const index = number || (doubtful ? all(".figure").indexOf(doubtful) + 1 : 1);
    const field = one(`[data-figure="${index}"]`, correct);
    field.focus();
    field.select();
    correct.scrollIntoView({ block: "nearest" });
  }
  correct?.addEventListener("toggle", () => {
    if (correct.open && !correct.contains(document.activeElement)) correct.scrollIntoView({ block: "nearest" });
  });
  document.addEventListener("click", (event) => {
    if (event.target.closest("[data-figure-open]")) openCorrection(null);
  });
  if (correct?.open) one("[data-figure]", correct).focus();

  /* --- news: more arrived, or another window answered; or the program ended --------------- */
  const dirty = () => topDialog() || typing(document.activeElement || document.body) || (correct && correct.open) || (wall && one(":checked", wall));
  let failures = 0;
  async function pulse() {
    if (document.visibilityState !== "visible" || sent) return;
    try {
      const answer = await fetch(asking.dataset.pulse, { cache: "no-store" });
      if (!answer.ok) throw new Error(String(answer.status));
      failures = 0;
      one("#lost").hidden = true;
      const now = await answer.json();
      if (now.token !== asking.dataset.token && !dirty()) location.replace(asking.dataset.here);
    } catch {
      failures += 1;
      if (failures > 1) one("#lost").hidden = false;
    }
  }
  if (asking) setInterval(pulse, 2000);
  if (one("[data-live]")) setInterval(async () => {
    if (document.visibilityState !== "visible" || topDialog() || typing(document.activeElement || document.body)) return;
    const answer = await fetch(location.href, { cache: "no-store" }).catch(() => null);
    if (!answer?.ok) return;
    if (answer.redirected) { location.replace(answer.url); return; }
    const next = one("[data-live]", new DOMParser().parseFromString(await answer.text(), "text/html"));
    if (next && next.textContent !== one("[data-live]").textContent) one("[data-live]").replaceWith(next);
  }, 3000);

  /* --- the slider ------------------------------------------------------------------------ */
  const slider = one("#slider");
  let asked = 0;
  slider?.addEventListener("input", async () => {
    const number = ++asked;
    one("output").textContent = Number(slider.value).toFixed(1);
    const answer = await fetch(`${slider.dataset.margin}&load=${encodeURIComponent(Number(slider.value).toFixed(1))}`).catch(() => null);
    if (answer?.ok && number === asked) {
      const found = new DOMParser().parseFromString(await answer.text(), "text/html");
      one("#margin").replaceChildren(...found.body.children);
    }
  });
  one("#load")?.addEventListener("submit", (event) => event.preventDefault());

  /* --- photos ---------------------------------------------------------------------------- */
  const shot = one("#shot");
  const telling = one("#sending");
  /* A photo may be chosen before this script runs: on a slow phone the page is there first. */
  function chosen(field, then) {
    field.addEventListener("change", then);
    if (field.files.length) then();
  }
  async function send(file) {
    const form = new FormData();
    form.append("onto", one("#onto").value);
    form.append("photo", file, "photo");
    telling.textContent = "Sending, and reading …";
    shot.classList.add("sending");
    try {
      const answer = await fetch(shot.action, { method: "POST", body: form, headers: { "x-part": "1" } });
      const found = one(".result", new DOMParser().parseFromString(await answer.text(), "text/html"));
      if (!found) throw new Error("no result");
      /* With its picture in it from the first: one that comes later would move the button away
         from under a thumb. */
      document.adoptNode(found);
      await Promise.all(all("img", found).map((image) => image.decode().catch(() => {})));
      one("#sent").prepend(found);
      telling.textContent = "";
      onto("");
    } catch {
      telling.textContent = "It was not sent. Is the phone still in the network, and the key valid? Then send it again.";
    }
    shot.classList.remove("sending");
  }
  function onto(key) {
    one("#onto").value = key;
    one("#onto-note").hidden = !key;
    one("#shutter-words").textContent = key ? "Another photo of this one" : "Take a photo";
  }
  if (shot) {
    for (const field of all("input[type=file]", shot)) {
      chosen(field, async () => {
        for (const file of [...field.files]) await send(file);
        field.value = "";
      });
    }
    shot.addEventListener("submit", (event) => event.preventDefault());
    one("#onto-off").addEventListener("click", () => onto(""));
    document.addEventListener("click", (event) => {
      const button = event.target.closest("[data-onto]");
      if (!button) return;
      onto(button.dataset.onto);
      one("#photo").click();
    });
  }
  if (one("#label")) chosen(one("#label"), () => {
    telling.textContent = "Sending, and looking for the label …";
    one("#scan").submit();
  });

  document.documentElement.dataset.ready = "yes";
})();
