// How far the demonstration is; it is opened when it is whole.

/** How often is asked, ms. */
const EVERY = 500;

/** Follows what is being made, where the page says that something is. */
export function handleMaking() {
  if (!document.querySelector("[data-making]")) return;
  const words = document.getElementById("making-doing");
  const bar = document.getElementById("making-share");
  const look = async () => {
    const answer = await fetch("/start/making").catch(() => null);
    if (!answer?.ok) return;
    const { doing, share, failed, done } = await answer.json();
    if (done) {
      location.assign("/house");
    } else if (failed || !doing) {
      location.assign("/start");
    } else {
      if (words) words.textContent = `The demonstration: ${doing}…`;
      if (bar instanceof HTMLProgressElement) bar.value = share;
      setTimeout(() => void look(), EVERY);
    }
  };
  void look();
}
