"use strict";
// For comfort alone: every page works without it. It looks whether the next plan is here, and moves the slider.
(() => {
  const body = document.body;
  const open = document.querySelector("[data-open]");
  const fresh = document.querySelector(".fresh");
  let touched = false;
  let waiting = body.dataset.old === "1" || open !== null; // the answer then comes once the plan is here
  let sent = false; // to load the page again now would lose the answer to what was just sent
  for (const kind of ["input", "focusin"]) { document.addEventListener(kind, () => { touched = true; }); }
  document.addEventListener("click", (event) => { if (event.target.closest("summary")) { touched = true; } });

  async function look() {
    if (sent) { return; }
    let wait = 3000;
    try {
      const answer = await fetch(waiting ? "/state?wait=1" : "/state", { cache: "no-store", credentials: "same-origin" });
      const state = await answer.json();
      const newer = state.plan > Number(body.dataset.plan) || state.known !== Number(body.dataset.known);
      const settled = open && state.open < Number(open.dataset.open);
      if (sent) { return; }
      if (newer || settled) {
        if (!touched) { window.location.reload(); return; }
        if (fresh) { fresh.hidden = false; }
      }
      waiting = state.old || open !== null;
      wait = waiting ? 100 : 3000;
    } catch (error) { wait = 5000; }
    window.setTimeout(look, wait);
  }
  if (body.dataset.live === "1") { window.setTimeout(look, waiting ? 100 : 3000); }

  const slider = document.getElementById("pot-slider");
  const amount = document.getElementById("pot-amount");
  if (slider && amount) {
    slider.hidden = false;
    const typed = Number.parseFloat(amount.value.replace(",", "."));
    if (Number.isFinite(typed)) { slider.value = String(typed); }
    slider.addEventListener("input", () => { amount.value = slider.value; });
    amount.addEventListener("input", () => { slider.value = amount.value.replace(",", "."); });
  }
  window.addEventListener("pageshow", (event) => { if (event.persisted) { window.location.reload(); } });
  document.querySelectorAll("form[method=post]").forEach((form) => form.addEventListener("submit", () => {
    sent = true;
    window.setTimeout(() => form.querySelectorAll("button").forEach((one) => { one.disabled = true; }), 0);
  }));
})();
