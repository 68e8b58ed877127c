// Light or dark as chosen before, set before anything is drawn.
const kept = localStorage.getItem("wythe-theme");
if (kept === "light" || kept === "dark") {
  document.documentElement.dataset.theme = kept;
}
