// Who opens a part before the page's scripts are there has it fetched as soon as they are: its
// "toggle" came when nobody listened yet, so it is sent once more (the part listens only once).
document.addEventListener("htmx:load", (event) => {
  for (const waiting of event.target.querySelectorAll("details[open] > [hx-trigger^=toggle]")) {
    waiting.parentElement.dispatchEvent(new Event("toggle"));
  }
});
