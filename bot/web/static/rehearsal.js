// Sends the page's forms without a reload and puts the new main part in place of the old one.
// Without this script the same forms work with a reload. Keeps focus, half-written text and what
// was unfolded; reads new messages out through the live region.
"use strict";

(() => {
  const SLOW_MS = 400;
  const READ_OUT_MAX = 4;
  // Forms are sent one after another: a second press while time moves waits and is not lost.
  let sent = Promise.resolve();

  document.documentElement.classList.add("scripted");

  document.addEventListener("change", (event) => {
    if (event.target.id === "alone") event.target.form.requestSubmit();
  });

  document.addEventListener("submit", (event) => {
    const form = event.target;
    if (form.method !== "post") return;
    event.preventDefault();
    const fields = new URLSearchParams(new FormData(form, event.submitter));
    if (form.matches(".typing, .to")) form.reset();
    sent = sent.then(() => send(form, fields));
  });

  async function send(form, fields) {
    const slow = setTimeout(() => tell("Time is being moved."), SLOW_MS);
    document.getElementById("main").setAttribute("aria-busy", "true");
    try {
      const answer = await fetch(form.getAttribute("action"), { method: "POST", body: fields });
      if (answer.ok) replace(await answer.text(), form);
      else giveBack(fields, `Not done: ${await answer.text()}.`);
      if (answer.ok) history.replaceState(null, "", addressWithoutNotice(answer.url));
    } catch {
      giveBack(fields, "The rehearsal does not answer. If it has ended, start it again.");
    }
    clearTimeout(slow);
    document.getElementById("main").removeAttribute("aria-busy");
  }

  function replace(html, form) {
    const fresh = new DOMParser().parseFromString(html, "text/html");
    const before = document.getElementById("main");
    const after = document.adoptNode(fresh.getElementById("main"));
    const focused = document.activeElement;
    const said = [after.querySelector("#notice").textContent, newMessages(before, after)];
    keepWriting(before, after);
    keepUnfolded(before, after);
    before.replaceWith(after);
    document.title = fresh.title;
    refocus(focused, form, after);
    document.getElementById("news").textContent = said.join(" ").trim();
  }

  function newMessages(before, after) {
    const lines = [];
    for (const list of after.querySelectorAll("[data-thread]")) {
      const name = CSS.escape(list.dataset.thread);
      const old = before.querySelector(`[data-thread="${name}"]`);
      if (!old) continue;
      for (const item of list.querySelectorAll("[data-key]")) {
        if (old.querySelector(`[data-key="${item.dataset.key}"]`)) continue;
        const speaker = item.querySelector(".speaker").textContent;
        lines.push(`${speaker}: ${item.querySelector("p").textContent}`);
      }
    }
    const left = lines.length - READ_OUT_MAX;
    return (left > 0 ? `${left} earlier messages. ` : "") + lines.slice(-READ_OUT_MAX).join(" ");
  }

  function keepWriting(before, after) {
    const boxes = "input[type=text], input[type=date], input[type=time]";
    for (const box of before.querySelectorAll(boxes)) {
      const same = after.querySelector(`#${box.id}`);
      if (same && box.value !== box.defaultValue) same.value = box.value;
    }
  }

  function giveBack(fields, why) {
    const box = document.getElementById(`${fields.get("place")}-text`);
    if (box && fields.has("text") && !box.value) box.value = fields.get("text");
    tell(why);
  }

  function keepUnfolded(before, after) {
    for (const details of after.querySelectorAll("details[id]")) {
      const old = before.querySelector(`#${details.id}`);
      if (old) details.open = old.open;
    }
  }

  function refocus(focused, form, after) {
    const kind = form.elements.place.value;
    const same = focused && focused.id && document.getElementById(focused.id);
    const pad = form.classList.contains("pad") && after.querySelector(`#${kind} .pad button`);
    const next = same || pad || document.getElementById(`${kind}-text`);
    if (next) next.focus({ preventScroll: true });
  }

  function addressWithoutNotice(text) {
    const address = new URL(text);
    address.searchParams.delete("notice");
    return address.pathname + address.search;
  }

  function tell(text) {
    document.getElementById("notice").textContent = text;
  }
})();
