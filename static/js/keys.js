// Keyboard: an element with data-key="x" is focused (fields) or pressed (links and
// buttons) when x is typed outside a field; f walks through the findings.
(() => {
  const typing = (element) =>
    element.closest("input, select, textarea, [contenteditable]") !== null;

  const nextFinding = () => {
    const findings = [...document.querySelectorAll(".finding:not(.finding--clear)")];
    if (!findings.length) return;
    const here = findings.indexOf(document.activeElement.closest(".finding"));
    const next = findings[(here + 1) % findings.length];
    next.tabIndex = -1;
    next.focus();
  };

  document.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey || event.isComposing) return;
    if (typing(event.target)) return;
    if (event.key === "f") return nextFinding();
    if (event.key.length !== 1) return;
    const target = document.querySelector(`[data-key="${CSS.escape(event.key)}"]`);
    if (!target) return;
    event.preventDefault();
    if (target.matches("input, select, textarea")) target.focus();
    else target.click();
  });

  // Contrast without leaving the page, so that a half-filled form stays.
  document.addEventListener("submit", (event) => {
    const form = event.target;
    if (!form.matches("[data-contrast-form]")) return;
    event.preventDefault();
    const wanted = form.elements.contrast.value;
    const secure = location.protocol === "https:" ? "; Secure" : "";
    document.cookie = `contrast=${wanted}; Path=/; Max-Age=31536000; SameSite=Lax${secure}`;
    document.documentElement.dataset.contrast = wanted;
    const high = wanted === "high";
    form.elements.contrast.value = high ? "normal" : "high";
    form.querySelector("button").textContent = high ? "Normal contrast" : "High contrast";
  });
})();
