// The filter of the kept list, on the page and in the file that is taken away.
(() => {
  const filter = document.querySelector('[data-filter]');
  if (filter) {
    const rows = [...document.querySelectorAll(filter.dataset.filter)];
    filter.addEventListener('input', () => {
      const words = filter.value.toLowerCase().split(/\s+/).filter(Boolean);
      for (const row of rows) row.hidden = !words.every(word => row.textContent.toLowerCase().includes(word));
    });
  }
})();
