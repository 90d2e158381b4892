// Staff are signed out when the record is not used for some minutes. Typing and pointing is use,
// also where nothing is sent; and a page that was left says that it ended.
const { idleMinutes, account, signIn } = document.body.dataset;
const MINUTE_MS = 60_000;

if (idleMinutes) {
  let used = Date.now();
  let told = used;
  const ask = async (headers = {}) => {
    const answer = await fetch(signIn, {
      method: "HEAD", redirect: "manual", headers: { "X-Account": account, ...headers },
    }).catch(() => null);
    if (answer?.headers.get("X-Signed-Out")) document.dispatchEvent(new CustomEvent("signed:out"));
  };
  const note = () => {
    used = Date.now();
    if (used - told < MINUTE_MS) return;
    told = used;
    ask();
  };
  for (const name of ["keydown", "pointerdown"]) document.addEventListener(name, note, true);
  setInterval(() => {
    if (Date.now() - used > Number(idleMinutes) * MINUTE_MS) ask({ "X-By-Itself": "1" });
  }, MINUTE_MS);
}
