// The filter of the kept list, on the page and in the file that is taken away.
(() => {
  const filter = document.querySelector('[data-filter]');
  if (filter) {
    const rows = [...document.querySelectorAll(filter.dataset.filter)];
    const none = document.querySelector('[data-none]');
    // 3/53 and SQ-9 are 3/053 and SQ-09.
    const plain = text => text.toLowerCase().replace(/(^|\D)0+(?=\d)/g, '$1');
    const pick = () => {
      const words = plain(filter.value).split(/\s+/).filter(Boolean);
      for (const row of rows) row.hidden = !words.every(word => plain(row.textContent).includes(word));
      if (none) none.hidden = rows.some(row => !row.hidden);
    };
    filter.addEventListener('input', pick);
    // What was typed on the page that this one stands in for.
    const typed = new URLSearchParams(location.search).get('q');
    if (typed && !filter.value) filter.value = typed;
    if (filter.value) pick();
  }
})();
