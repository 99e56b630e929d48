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
          if (answer.ok) into.innerHTML = await answer.text();
        } catch (error) {
          if (error.name !== 'AbortError') say();
        }
      }, 200);
    });
  }
  const net = document.getElementById('net');
  function say() {
    net.classList.toggle('on', !navigator.onLine);
    net.textContent = navigator.onLine ? '' : net.dataset.offline;
  }
  addEventListener('online', say);
  addEventListener('offline', say);
  say();
  const keeper = document.querySelector('meta[name=keeper]');
  if (keeper && 'serviceWorker' in navigator) navigator.serviceWorker.register(keeper.content).catch(() => {});
  for (const form of document.querySelectorAll('form[data-forget]')) {
    form.addEventListener('submit', () => navigator.serviceWorker?.controller?.postMessage('forget'));
  }
})();
