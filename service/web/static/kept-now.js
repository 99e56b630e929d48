// A plan was kept: what this device keeps of the feeds is old now.
navigator.serviceWorker?.ready.then(worker => worker.active?.postMessage('keep')).catch(() => {});
