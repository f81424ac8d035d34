// A shared station: quiet for five minutes signs the musician out; nothing comes back by "Back".

import { forgetFresh } from "./recorder-station.js";

const QUIET_MS = 5 * 60 * 1000;
const leave = document.querySelector("[data-station-leave]");

if (leave) {
  let timer = 0;
  const again = () => {
    clearTimeout(timer);
    timer = setTimeout(() => (document.body.hasAttribute("data-busy") ? again() : leave.requestSubmit()), QUIET_MS);
  };
  for (const sign of ["pointerdown", "keydown", "scroll"]) addEventListener(sign, again, { passive: true });
  again();
} else {
  forgetFresh();
}
addEventListener("pageshow", (event) => event.persisted && location.reload());
