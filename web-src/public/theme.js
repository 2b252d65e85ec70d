// Before anything is drawn, so that a dark page never flashes white. A file of its own: no script stands in the page.
(() => {
  const asked = new URLSearchParams(location.search).get("theme");
  let kept = null;
  try { kept = localStorage.getItem("boostwright-theme"); } catch { /* storage is switched off */ }
  const dark = matchMedia("(prefers-color-scheme: dark)").matches;
  const theme = [asked, kept].find(said => said === "light" || said === "dark") || (dark ? "dark" : "light");
  document.documentElement.dataset.theme = theme;
})();
