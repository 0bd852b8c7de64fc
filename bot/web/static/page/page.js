// What spares a reload or a search by eye; without it everything works all the same.

// The bot's reply is where reading goes on.
document.getElementById("reply")?.focus();

// A list sends itself once another order is chosen.
for (const list of document.querySelectorAll("[data-send]")) {
  list.addEventListener("change", () => list.form.requestSubmit());
}

// Names are narrowed down while they are typed.
for (const box of document.querySelectorAll("[data-filter]")) {
  const rows = document.querySelectorAll(`#${box.dataset.filter} > li`);
  box.addEventListener("input", () => {
    const wanted = box.value.trim().toLowerCase();
    for (const row of rows) row.hidden = !row.dataset.name.includes(wanted);
  });
}

// A file is put into the field, where it can be read and mended before it is sent.
for (const chooser of document.querySelectorAll("[data-into]")) {
  chooser.closest("label").hidden = false;
  chooser.addEventListener("change", async () => {
    const file = chooser.files[0];
    if (file) document.getElementById(chooser.dataset.into).value = await file.text();
  });
}

for (const button of document.querySelectorAll("[data-print]")) {
  button.hidden = false;
  button.addEventListener("click", () => print());
}

// A passkey is made or used by the browser; what it answers goes with the form.
const reads = { create: "parseCreationOptionsFromJSON", get: "parseRequestOptionsFromJSON" };
for (const form of document.querySelectorAll("[data-passkey]")) {
  const how = form.dataset.passkey;
  if (!window.PublicKeyCredential?.[reads[how]]) continue;
  form.hidden = false;
  form.addEventListener("submit", async (event) => {
    if (form.elements.credential.value) return;
    event.preventDefault();
    event.stopImmediatePropagation();
    const publicKey = PublicKeyCredential[reads[how]](JSON.parse(form.dataset.asked));
    const found = await navigator.credentials[how]({ publicKey }).catch(() => null);
    if (!found) return;
    form.elements.credential.value = JSON.stringify(found.toJSON());
    form.requestSubmit();
  });
}

// A second press of the same button sends nothing twice.
for (const form of document.querySelectorAll("form[method=post]")) {
  form.addEventListener("submit", (event) => {
    if (form.dataset.sent) event.preventDefault();
    form.dataset.sent = "1";
  });
}
addEventListener("pageshow", () => {
  for (const form of document.querySelectorAll("form[data-sent]")) delete form.dataset.sent;
});
