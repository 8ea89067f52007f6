// The reader's choice of units: remembered, and the page asked for again as it is.
for (const link of document.querySelectorAll("[data-units]")) {
  link.addEventListener("click", (event) => {
    event.preventDefault();
    document.cookie = `units=${link.dataset.units}; path=/; max-age=31536000; SameSite=Lax`;
    const here = new URL(location.href);
    here.searchParams.set("units", link.dataset.units);
    location.replace(here);
  });
}
