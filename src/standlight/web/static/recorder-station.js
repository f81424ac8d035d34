// At a station: once a turn is in the queue, the musician is signed out and the card page
// comes back; the queue goes on there. Without network a cover hides everything until then.

import { shelf } from "./upload-queue-shelf.js";

const AGAIN_MS = 3000;

// Takes that were not kept belong to nobody any more.
export async function forgetFresh() {
  const kept = await shelf;
  for (const take of await kept.all("takes")) if (take.state === "fresh") await kept.forget(take.key);
}

export async function leaveStation(thanks) {
  await forgetFresh();
  for (;;) {
    try {
      const answer = await fetch(thanks, { cache: "no-store" });
      if (answer.ok) return location.replace(thanks);
    } catch {
      cover();
    }
    await new Promise((resolve) => setTimeout(resolve, AGAIN_MS));
  }
}

function cover() {
  if (document.querySelector(".station-cover")) return;
  const sheet = document.createElement("div");
  sheet.className = "station-cover";
  const head = document.createElement("h1");
  head.textContent = "Thank you. Your take is safe.";
  const text = document.createElement("p");
  text.textContent = "There is no network now. The next musician can sign in as soon as it is back.";
  sheet.append(head, text);
  document.querySelector("main").replaceChildren(sheet);
}
