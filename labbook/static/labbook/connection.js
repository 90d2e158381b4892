// Says in words when what was typed has not reached the server.
(() => {
  const strip = () => document.getElementById("connection");
  const say = (sentence) => {
    const element = strip();
    if (!element) return;
    element.querySelector("p").textContent = sentence;
    element.hidden = !sentence;
  };

  document.addEventListener("htmx:sendError", () =>
    say("Not saved: the server did not answer. What you typed is still on this page; change the field again once the network is back."));
  document.addEventListener("htmx:timeout", () =>
    say("Not saved: the server took too long. What you typed is still on this page; change the field again."));
  document.addEventListener("htmx:responseError", (event) => {
    const { status } = event.detail.xhr;
    say(status === 403
      ? "Not saved: you are signed out, or this is not yours to change. Open the page again to see which."
      : `Not saved: the server answered with error ${status}. What you typed is still on this page; try once more, then tell your TA.`);
  });
  document.addEventListener("htmx:afterRequest", (event) => {
    if (event.detail.successful) say("");
  });
})();
