// Loads the page again once what is worked out is there. Without this the page loads itself again.
(() => {
  const page = document.querySelector('[data-watch]');
  if (!page || !('EventSource' in window)) return;
  const source = new EventSource(page.dataset.watch);
  source.onmessage = event => {
    if (!JSON.parse(event.data).ended) return;
    source.close();
    location.reload();
  };
})();
