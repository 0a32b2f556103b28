"use strict";
// Dark first; a choice made before is put on before the page is painted.
(() => {
  const KEY = "leadline-theme";
  const root = document.documentElement;
  const stored = () => {
    try { return localStorage.getItem(KEY); } catch { return null; }
  };
  if (stored() === "light") root.dataset.theme = "light";
  document.addEventListener("DOMContentLoaded", () => {
    for (const button of document.querySelectorAll("[data-theme-switch]")) button.hidden = false;
  });
  document.addEventListener("click", (event) => {
    if (!event.target.closest("[data-theme-switch]")) return;
    root.dataset.theme = root.dataset.theme === "light" ? "dark" : "light";
    try { localStorage.setItem(KEY, root.dataset.theme); } catch { /* without storage the choice lasts for this page */ }
  });
})();
