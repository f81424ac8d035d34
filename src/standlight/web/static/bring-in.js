// Many files go one request each, so that one bad file or a lost line costs no other; one sound
// plays at a time; a part is split where its sound stands. The page is whole without this.

const form = document.querySelector("[data-bring]");
const longForm = document.querySelector("[data-bring-long]");

async function bring(file) {
  const body = new FormData();
  body.append("csrfmiddlewaretoken", form.querySelector("[name=csrfmiddlewaretoken]").value);
  body.append("modified", String(file.lastModified));
  body.append("files", file, file.name);
  try {
    const answer = await fetch(form.action, { method: "POST", body, headers: { Accept: "application/json" } });
    if (!answer.ok) return [`${file.name}: it could not be sent (${answer.status}). Try it again.`];
    return (await answer.json()).slips;
  } catch {
    return [`${file.name}: it could not be sent. Is the network there?`];
  }
}

// What could not be kept is listed; a page without slips goes straight to its rows.
function told(slips) {
  const list = document.createElement("ul");
  list.className = "errorlist";
  for (const slip of slips) list.append(Object.assign(document.createElement("li"), { textContent: slip }));
  const on = Object.assign(document.createElement("a"), { href: form.action, textContent: "To the recordings that are here" });
  on.className = "button";
  form.replaceChildren(list, on);
  list.tabIndex = -1;
  list.focus();
}

form?.addEventListener("submit", async (event) => {
  event.preventDefault();
  const files = [...form.querySelector("input[type=file]").files];
  const progress = form.querySelector("[data-progress]");
  form.querySelector("button").disabled = true;
  const slips = [];
  for (const [number, file] of files.entries()) {
    progress.textContent = `${number + 1} of ${files.length} on its way`;
    slips.push(...(await bring(file)));
  }
  if (slips.length) told(slips);
  else location.assign(form.action);
});

longForm?.addEventListener("submit", () => {
  longForm.querySelector("[data-progress]").textContent = "On its way, then it is listened through. Stay on this page.";
});

document.addEventListener("play", (event) => {
  for (const other of document.querySelectorAll("[data-part]")) if (other !== event.target) other.pause();
}, true);

function clock(seconds) {
  const tenths = Math.round(seconds * 10);
  return `${Math.floor(tenths / 600)}:${String(Math.floor((tenths % 600) / 10)).padStart(2, "0")}.${tenths % 10}`;
}

// Where the sound of a part stands is where it would be split, unless something is typed.
document.addEventListener("click", (event) => {
  if (!event.target.closest("[data-split-here]")) return;
  const row = event.target.closest(".arrival");
  const field = row.querySelector("[data-split]");
  const sound = row.querySelector("audio");
  if (!field.value && sound.currentTime) field.value = clock(sound.currentTime);
});
