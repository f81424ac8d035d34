// A director who signs out leaves no podium page on the device, and no tap or remark of theirs. What
// cannot be sent at this moment is asked about first.

import { drain, forget, own } from "./rehearse-queue.js";

const ASK = "Some taps or remarks from the podium page are not sent yet. If you sign out now, they are gone. Sign out?";
const { leave } = document.querySelector("[data-leave]").dataset;

async function forgetPages() {
  for (const name of (await window.caches?.keys()) ?? []) {
    if (name.startsWith("standlight-podium")) await caches.delete(name);
  }
}

async function signOut(event) {
  event.preventDefault();
  if ((await own()).length) await drain();
  if ((await own()).length && !confirm(ASK)) return;
  // A store that cannot be opened keeps nobody signed in.
  await Promise.allSettled([forget(), forgetPages()]);
  event.target.submit();
}

for (const form of document.querySelectorAll(`form[action="${leave}"]`)) form.addEventListener("submit", signOut);
