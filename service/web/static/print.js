// A page that was asked for as a print offers the printer by itself.
addEventListener('load', () => print());
