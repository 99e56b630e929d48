// All the script there is on most pages. Everything works without it.
(() => {
  const box = document.querySelector('[data-into]');
  if (box) {
    const into = document.getElementById(box.dataset.into);
    let wait, asked;
    box.addEventListener('input', () => {
      clearTimeout(wait);
      wait = setTimeout(async () => {
        asked?.abort();
        asked = new AbortController();
        try {
          const answer = await fetch(box.dataset.from + '?q=' + encodeURIComponent(box.value), {signal: asked.signal});
          if (!answer.ok) throw new Error(answer.status);
          into.innerHTML = await answer.text();
          say();
        } catch (error) {
          if (error.name !== 'AbortError') say('unanswered');
        }
      }, 200);
    });
  }
  const net = document.getElementById('net');
  // A copy that the keeper hands out is marked by it; else only what is known here can be told.
  function say(what) {
    const line = !navigator.onLine ? 'offline' : what || ('kept' in net.dataset ? 'stalled' : '');
    net.classList.toggle('on', Boolean(line));
    net.textContent = line ? net.dataset[line] : '';
  }
  addEventListener('online', () => say());
  addEventListener('offline', () => say());
  say();
  const keeper = document.querySelector('meta[name=keeper]');
  // What is kept is fetched when this page has all that it wants.
  if (keeper && 'serviceWorker' in navigator) {
    addEventListener('load', () => navigator.serviceWorker.register(keeper.content).catch(() => {}));
  }
  for (const form of document.querySelectorAll('form[data-forget]')) {
    form.addEventListener('submit', () => navigator.serviceWorker?.controller?.postMessage('forget'));
  }
})();
