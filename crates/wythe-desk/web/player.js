// Players begin quietly, and say which state is heard.

/** Where the volume begins, 0 to 1; the file is quiet already. */
const VOLUME = 0.25;

/** @param {HTMLAudioElement} player */
function prepare(player) {
  if (player.dataset.ready) return;
  player.dataset.ready = "1";
  player.volume = VOLUME;
  const turn = Number(player.dataset.turn);
  const said = document.getElementById(player.dataset.says ?? "");
  const names = (player.dataset.names ?? "").split("|");
  if (turn > 0 && said) {
    player.addEventListener("timeupdate", () => {
      const name = names[Math.floor(player.currentTime / turn) % names.length] ?? "";
      if (said.textContent !== name) said.textContent = name;
    });
  }
  player.addEventListener("error", () => {
    if (said && player.error) said.textContent = "This cannot be played; the stretch may lie behind the end.";
  });
}

/** Prepares every player, now and when it is drawn again. */
export function handlePlayers() {
  const all = () => document.querySelectorAll("audio").forEach(prepare);
  all();
  document.addEventListener("wythe-fresh", all);
}
