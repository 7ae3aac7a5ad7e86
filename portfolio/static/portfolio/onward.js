// Enter and the arrows go from one reading to the next. Without this the form works as any other.
document.addEventListener("keydown", (event) => {
  const step = { Enter: 1, ArrowDown: 1, ArrowUp: -1 }[event.key];
  if (!step || !event.target.matches("input[data-onward]")) return;
  event.preventDefault();
  const boxes = [...document.querySelectorAll("input[data-onward]")];
  const next = boxes[boxes.indexOf(event.target) + step];
  if (next) {
    next.focus();
    next.select();
  }
});
