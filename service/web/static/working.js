// How far a plan is, as the service says it. Without this the page loads itself again.
(() => {
  const page = document.querySelector('[data-watch]');
  if (!page || !('EventSource' in window)) return;
  const done = page.querySelector('[data-done]'), line = page.querySelector('[data-gap]');
  const words = name => document.getElementById(name + '-words');
  const gaps = [];
  function draw() {
    const most = Math.max(...gaps, 1), step = gaps.length > 1 ? 300 / (gaps.length - 1) : 300;
    const points = gaps.map((gap, i) => `${(i * step).toFixed(1)},${(58 - 56 * gap / most).toFixed(1)}`);
    line.setAttribute('points', points.length > 1 ? points.join(' ') : '');
    page.querySelector('[data-drawn]').hidden = points.length < 2;
  }
  const source = new EventSource(page.dataset.watch);
  source.onmessage = event => {
    const told = JSON.parse(event.data);
    if (told.ended) {
      source.close();
      location.reload();
      return;
    }
    done.setAttribute('width', told.done_pct + '%');
    if (told.gap_pct !== null) {
      gaps.push(told.gap_pct);
      draw();
    }
    words('parts').firstElementChild.textContent = told.parts;
    words('gap').textContent = told.gap;
    words('unfed').textContent = told.unfed;
  };
})();
