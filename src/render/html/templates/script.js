(function () {
  'use strict';
  var root = document.documentElement;
  var all = function (selector, within) { return Array.from((within || document).querySelectorAll(selector)); };
  root.classList.add('js');

  // Units. Lengths are kept in millimeters, weights in pounds; figures of tables are converted as they are printed.
  var OTHER = {
    lb: ['kg', 0.45359237, 0], kg: ['lb', 1 / 0.45359237, 0],
    in: ['mm', 25.4, -1], mm: ['in', 1 / 25.4, 2],
    ft: ['m', 0.3048, 1], m: ['ft', 1 / 0.3048, 0], ft2: ['m2', 0.09290304, 1]
  };
  var WEIGHTS = ['lb', 'kg'];
  var shown = new Map();
  function original(node) {
    if (!shown.has(node)) { shown.set(node, node.textContent); }
    return shown.get(node);
  }
  function parted(text) {
    var sides = text.split('.');
    sides[0] = sides[0].replace(/\B(?=(\d{3})+(?!\d))/g, ',');
    return sides.join('.');
  }
  function trimmed(value, places) {
    var power = Math.pow(10, places), text = (Math.round(value * power) / power).toFixed(places);
    return text.indexOf('.') < 0 ? text : text.replace(/\.?0+$/, '');
  }
  function inches(millimeters) {
    var count = millimeters / 0.396875;
    if (Math.abs(count - Math.round(count)) > 0.002) { return trimmed(millimeters / 25.4, 3); }
    count = Math.round(count);
    var sign = count < 0 ? '-' : '', whole = Math.floor(Math.abs(count) / 64), part = Math.abs(count) % 64, base = 64;
    while (part && part % 2 === 0) { part /= 2; base /= 2; }
    if (!part) { return sign + whole; }
    return sign + (whole ? whole + '-' : '') + part + '/' + base;
  }
  function lead(text) { return /^[^\d-]*/.exec(text)[0]; }
  function convertLength(node, isOther, toMetric) {
    var text = original(node);
    if (!isOther || (toMetric && / mm$/.test(text))) { node.textContent = text; return; }
    var sides = node.dataset.mm.split(' ').map(function (side) {
      return toMetric ? trimmed(Number(side), 1) : inches(Number(side));
    });
    var unit = /(in|ft|mm|m)$/.test(text) ? (toMetric ? ' mm' : ' in') : '';
    node.textContent = lead(text) + sides.join(/ to /.test(text) ? ' to ' : ' x ') + unit;
  }
  function convertWeight(node, isOther, toMetric) {
    var text = original(node);
    var pounds = Number(node.dataset.lb);
    node.textContent = !isOther ? text
      : lead(text) + parted((toMetric ? pounds * 0.45359237 : pounds).toFixed(1)) + (toMetric ? ' kg' : ' lb');
  }
  function convertCell(cell, unit, isOther) {
    var text = original(cell);
    var found = /^([+-]?)([\d,]+)(?:\.(\d+))?$/.exec(text);
    if (!isOther || !found) { cell.textContent = text; return; }
    var other = OTHER[unit], places = Math.max((found[3] || '').length + other[2], 0);
    cell.textContent = found[1] + parted((Number(text.replace(/[,+-]/g, '')) * other[1]).toFixed(places));
  }
  function convert() {
    var chosen = {
      length: document.querySelector('input[name=length]:checked').value === 'other',
      weight: document.querySelector('input[name=weight]:checked').value === 'other'
    };
    var isOther = function (unit) { return WEIGHTS.indexOf(unit) < 0 ? chosen.length : chosen.weight; };
    var isImperial = ['in', 'ft'].indexOf(root.dataset.length) >= 0;
    all('[data-mm]').forEach(function (node) { convertLength(node, chosen.length, isImperial); });
    all('[data-lb]').forEach(function (node) { convertWeight(node, chosen.weight, root.dataset.weight === 'lb'); });
    all('[data-unit]').forEach(function (node) {
      var unit = node.dataset.unit;
      node.textContent = isOther(unit) ? OTHER[unit][0] : unit;
    });
    all('table').forEach(function (table) {
      if (!table.tHead) { return; }
      var units = Array.from(table.tHead.rows[0].cells).map(function (title) { return title.dataset.u || ''; });
      all('tbody tr, tfoot tr', table).forEach(function (row) {
        Array.from(row.cells).forEach(function (cell, index) {
          var own = cell.classList.contains('n') && !units[index] ? row.dataset.u : units[index];
          if (own && !cell.dataset.mm) { convertCell(cell, own, isOther(own)); }
        });
        var named = row.dataset.u && row.cells[row.dataset.at];
        if (named) { named.textContent = isOther(row.dataset.u) ? OTHER[row.dataset.u][0] : row.dataset.u; }
      });
    });
  }
  all('.controls input[type=radio]').forEach(function (input) { input.addEventListener('change', convert); });

  // Sort: each title of a table becomes a button; blanks come last. It is not a button element, since a browser that repeats titles on
  // each printed page leaves those out.
  function value(row, index, isNumber) {
    var text = row.cells[index] ? row.cells[index].textContent.trim() : '';
    if (!isNumber) { return text.toLowerCase(); }
    var number = parseFloat(text.replace(/[,+]/g, ''));
    return isNaN(number) ? null : number;
  }
  function sort(table, index, title) {
    var isDown = title.getAttribute('aria-sort') === 'ascending';
    var isNumber = title.classList.contains('n');
    all('th[aria-sort]', table.tHead).forEach(function (other) { other.removeAttribute('aria-sort'); });
    title.setAttribute('aria-sort', isDown ? 'descending' : 'ascending');
    var rows = Array.from(table.tBodies[0].rows).map(function (row) { return [value(row, index, isNumber), row]; });
    rows.sort(function (one, other) {
      var a = one[0], b = other[0];
      if (a === b) { return 0; }
      if (a === null || a === '') { return 1; }
      if (b === null || b === '') { return -1; }
      var order = isNumber ? a - b : a.localeCompare(b, 'en', { numeric: true });
      return isDown ? -order : order;
    });
    rows.forEach(function (row) { table.tBodies[0].appendChild(row[1]); });
  }
  all('.table table').forEach(function (table) {
    if (table.tBodies[0].rows.length < 2) { return; }
    Array.from(table.tHead.rows[0].cells).forEach(function (title, index) {
      if (!title.textContent) { return; }
      var button = document.createElement('span');
      button.setAttribute('role', 'button');
      button.tabIndex = 0;
      while (title.firstChild) { button.appendChild(title.firstChild); }
      title.appendChild(button);
      button.addEventListener('click', function () { sort(table, index, title); });
      button.addEventListener('keydown', function (event) {
        if (event.key !== 'Enter' && event.key !== ' ') { return; }
        event.preventDefault();
        sort(table, index, title);
      });
    });
  });

  // Filter and search: rows and layouts that lack the words are hidden; totals go on counting all rows.
  var FILTERED = 8;
  var texts = new Map();
  function text(node) {
    if (!texts.has(node)) { texts.set(node, node.textContent.toLowerCase()); }
    return texts.get(node);
  }
  function has(node, words) {
    return words.every(function (word) { return text(node).indexOf(word) >= 0; });
  }
  function words(input) { return input ? input.value.toLowerCase().split(/\s+/).filter(Boolean) : []; }
  var search = document.getElementById('search'), found = document.getElementById('found');
  var tables = all('.table').map(function (box) {
    var table = box.querySelector('table'), rows = Array.from(table.tBodies[0].rows), own = { box: box, rows: rows };
    if (rows.length >= FILTERED) {
      var label = document.createElement('label');
      label.className = 'filter';
      label.textContent = 'Filter ';
      own.input = document.createElement('input');
      own.input.type = 'search';
      own.input.setAttribute('aria-label', 'Filter: ' + table.caption.textContent);
      own.status = document.createElement('span');
      own.status.setAttribute('role', 'status');
      label.appendChild(own.input);
      label.appendChild(own.status);
      box.insertBefore(label, box.firstChild);
      own.input.addEventListener('input', function () { later(own.input, function () { filter(own, words(search)); }); });
    }
    return own;
  });
  function filter(table, searched) {
    var asked = words(table.input).concat(searched), kept = 0;
    table.rows.forEach(function (row) {
      row.hidden = !has(row, asked);
      kept += row.hidden ? 0 : 1;
    });
    if (table.status) {
      table.status.textContent = asked.length ? kept + ' of ' + table.rows.length + ' rows; totals count all' : '';
    }
    table.box.classList.toggle('empty', searched.length > 0 && kept === 0);
    return kept;
  }
  var cards = all('.card');
  function searchAll() {
    var asked = words(search), count = 0;
    tables.forEach(function (table) { count += filter(table, asked); });
    cards.forEach(function (card) {
      card.hidden = !has(card, asked);
      count += card.hidden ? 0 : 1;
    });
    found.textContent = asked.length ? count + ' rows and layouts hold it' : '';
  }
  var timers = new Map();
  function later(key, work) {
    clearTimeout(timers.get(key));
    timers.set(key, setTimeout(work, 120));
  }
  search.addEventListener('input', function () { later(search, searchAll); });
}());
