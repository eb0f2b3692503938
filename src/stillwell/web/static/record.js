// Turns the pages of the record: the arrow keys go to what was before and after, a tap on a day opens its hour.

addEventListener("keydown", (event) => {
  if (event.altKey || event.ctrlKey || event.metaKey || event.shiftKey) return;
  if (event.target.closest("input, select, textarea, [tabindex='0']")) return;
  const rel = { ArrowLeft: "prev", ArrowRight: "next" }[event.key];
  const link = rel && document.querySelector(`a[rel=${rel}]`);
  if (link) link.click();
});

function share(event, place) {
  const box = place.getBoundingClientRect();
  return { across: (event.clientX - box.left) / box.width, down: (event.clientY - box.top) / box.height };
}

for (const place of document.querySelectorAll(".days[data-day]")) {
  place.addEventListener("click", (event) => {
    const hour = Math.min(23, Math.max(0, Math.floor(share(event, place).across * 24)));
    location.href = `${place.dataset.day}/${String(hour).padStart(2, "0")}`;
  });
}

for (const place of document.querySelectorAll(".days[data-days]")) {
  place.addEventListener("click", (event) => {
    const row = Math.min(place.dataset.days - 1, Math.max(0, Math.floor(share(event, place).down * place.dataset.days)));
    const day = new Date(`${place.dataset.first}T12:00:00Z`);
    day.setUTCDate(day.getUTCDate() + row);
    location.href = `/record/${day.toISOString().slice(0, 10)}`;
  });
}
