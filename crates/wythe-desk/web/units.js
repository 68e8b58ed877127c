// Lengths as the project's people read them; what is saved is typed or computed by the desk.

/**
 * @param {number} metres
 */
export function length(metres) {
  if (document.body.dataset.units !== "US") return `${metres.toFixed(2)} m`;
  const inches = Math.round(Math.abs(metres) / 0.0254);
  const sign = metres < 0 ? "\u2212" : "";
  return `${sign}${Math.floor(inches / 12)}' ${inches % 12}"`;
}
