// One line of the list of takes, as the page itself writes it for takes the school has.

const words = (take) =>
  take.state === "refused" ? `This take could not be sent: ${take.error}.` : "On its way. You can go on.";

export function takeLine(take, url, seconds, onLetGo) {
  const line = document.createElement("li");
  line.dataset.take = take.key;
  line.dataset.number = take.number;
  const label = document.createElement("label");
  label.className = "choice";
  const radio = document.createElement("input");
  Object.assign(radio, { type: "radio", name: "take", value: take.key, required: true });
  radio.checked = take.state === "kept";
  radio.disabled = take.state === "refused";
  label.append(radio, `Take ${take.number}, about ${seconds} second${seconds === 1 ? "" : "s"}`);
  const sound = document.createElement("audio");
  Object.assign(sound, { controls: true, preload: "none", src: url });
  const way = document.createElement("p");
  way.className = "quiet small on-its-way";
  way.dataset.way = "";
  way.textContent = words(take);
  const button = document.createElement("button");
  Object.assign(button, { type: "button", className: "plain small", textContent: "Let it go" });
  button.addEventListener("click", onLetGo);
  line.append(label, sound, way, button);
  return line;
}
