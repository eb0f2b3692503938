// Draws a chart where one is asked for: only then are the libraries that draw fetched, from this very server.

const script = document.documentElement;

function dark() {
  const theme = script.dataset.theme;
  return theme === "lamp" || (theme !== "paper" && matchMedia("(prefers-color-scheme: dark)").matches);
}

function fitted(spec, width) {
  for (const panel of spec.vconcat ?? [spec]) panel.width = Math.max(560, width - 130);
  return spec;
}

for (const place of document.querySelectorAll("[data-chart]")) {
  const button = place.querySelector("button");
  const said = place.querySelector("[role=status]");
  const sheet = place.querySelector(".scrolls");
  button.hidden = false;
  button.addEventListener("click", async () => {
    button.disabled = true;
    said.textContent = "It is being drawn.";
    try {
      const address = new URL(place.dataset.chart, location);
      address.searchParams.set("look", dark() ? "dark" : "light");
      const answer = await fetch(address);
      if (!answer.ok) throw new Error(await answer.text());
      const spec = await answer.json();
      await import(place.dataset.script);
      sheet.hidden = false;
      await window.vegaEmbed(sheet, fitted(spec, place.clientWidth), {
        actions: false, ast: true, defaultStyle: false, renderer: "svg", tooltip: { disableDefaultStyle: true },
      });
      button.hidden = true;
      said.textContent = "Drawn below. The table says the same.";
    } catch {
      button.disabled = false;
      said.textContent = "It cannot be drawn here: the packages that draw are not installed where this page comes from. The table says the same.";
    }
  });
}
