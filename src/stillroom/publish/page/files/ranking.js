// The answer: one sentence, ranked bars or a table, who is left out and why.
'use strict';

Stillroom.ranking = (function () {
  var P = Stillroom.parts;
  var W = Stillroom.words;
  var C = Stillroom.conditions;
  var FEW = 20;
  var TIED = 'too close to call';
  var ALONE = 'ahead of all';
  var INLINE = /^(tops out|at most|at least|no more than)/;
  /** @type {any} */ var est;
  /** @type {any} */ var release;
  /** @type {Object<number, any>} */ var kept = {};
  /** @type {number[]} */ var marksAt = [];
  /** @type {any} */ var last = null;
  var isAll = false;
  /** @param {string} id */
  function at(id) { return /** @type {any} */ (document.getElementById(id)); }

  /** @param {any} estimate @param {any} told @param {(change: any, isDone: boolean) => void} tell */
  function start(estimate, told, tell) {
    est = estimate;
    release = told;
    at('all').addEventListener('click', function () { isAll = !isAll; show(last.settings, last.link); });
    at('as-bars').addEventListener('click', function () { tell({ table: false }, true); });
    at('as-table').addEventListener('click', function () { tell({ table: true }, true); });
    at('to-full').addEventListener('click', function () { tell({ full: true }, true); at('headline').focus(); });
  }

  /** The answer in one sentence. @param {any} found @param {any} s @returns {string} */
  function sentence(found, s) {
    if (C.isUnread(s)) return 'Write the resistance of what the air goes through, to see who leads.';
    var where = C.whole(s, est);
    var rows = found.rows;
    if (!rows.length) return none(found, s);
    var u = C.unit(s, release, 'flow');
    var first = rows[0];
    var value = C.value(first, u) + ' (' + C.interval(first.low, first.high, u) + ')';
    var names = found.best.map(function (/** @type {number} */ index) { return est.fans[index].name; });
    if (rows.length === 1) return where + ' only ' + W.isolate(est.fans[first.fan].name) + ' could be ranked: ' + value + '.';
    if (names.length < 2) return where + ' ' + W.isolate(est.fans[first.fan].name) + ' moves the most air: ' + value + '.';
    if (names.length === rows.length) return where + ' the ' + W.plural(rows.length, 'fan') + ' are too close to call: ' + W.listed(names, 5) + '.';
    return where + ' ' + W.plural(names.length, 'fan') + ' are too close to call: ' + W.listed(names, 5) + '.';
  }

  /** How the reasons begin for which a fan has no number, and what a sentence says of them. @type {[RegExp, string][]} */
  var WHYS = [
    [/^sound measured only with (.+)$/, 'sound was measured only with '],
    [/^no sound measured.*$/, 'no sound was measured'],
    [/^price unknown$/, 'the price is not known'],
    [/^price above ([^:]+):.*$/, 'the price is above $1'],
    [/^speed [^:]+: airflow tested.*$/, 'airflow was not tested at the speed that the limit allows']
  ];
  var OTHER_SIZE = /^\d+ mm, not (\d+ mm)$/;

  /** That nobody can be ranked, the commonest reason, and who can be at full speed. @param {any} found @param {any} s */
  function none(found, s) {
    var where = C.whole(s, est).replace(/,$/, '');
    var words = 'No fan can be ranked ' + where[0].toLowerCase() + where.slice(1);
    var gone = found.left.filter(function (/** @type {any} */ each) { return !OTHER_SIZE.test(each.why); });
    if (!gone.length) return words + (found.left.length ? ': none is of this size.' : s.only.trim() ? ': no name holds “' + s.only.trim() + '”.' : '.');
    /** @type {Object<string, number>} */ var counts = {};
    gone.forEach(function (/** @type {any} */ each) { counts[reason(each.why)] = (counts[reason(each.why)] || 0) + 1; });
    var most = Object.keys(counts).sort(function (a, b) { return counts[b] - counts[a]; })[0];
    var whose = counts[most] === gone.length ? '' : 'for ' + W.count(counts[most]) + ' of ' + W.plural(gone.length, 'fan') + ', ';
    var full = found.atFull ? ' At full speed ' + (found.atFull < gone.length ? W.count(found.atFull) : gone.length > 1 ? 'they' : 'it') + ' can.' : '';
    return words + ': ' + whose + W.stopped(most) + full;
  }

  /** @param {string} why */
  function reason(why) {
    var known = WHYS.filter(function (each) { return each[0].test(why); })[0];
    if (!known) return why;
    return why.replace(known[0], known[1]) + (known === WHYS[0] ? W.listed(why.replace(known[0], '$1').split(', ').map(obstacleWords)) : '');
  }

  /** @param {string} name */
  function obstacleWords(name) { return release.obstacles[name] ? release.obstacles[name].words : name; }

  /** How many fans can be ranked at full speed where none can at the limit. @param {any} found @param {any} s */
  function atFull(found, s) {
    if (found.rows.length || s.full || C.isUnread(s)) return 0;
    return est.rank(Object.assign(Stillroom.settings.asked(s, est), { limit: null })).rows.length;
  }

  /** @param {any} row @param {any} found */
  function verdict(row, found) {
    if (row.verdict === 'behind' || row.verdict === 'not judged') return row.verdict;
    return found.best.length > 1 ? TIED : ALONE;
  }

  /** A round end of the scale: the same while the reader drags a little. @param {any[]} rows @param {any} u */
  function scale(rows, u) {
    var most = rows.reduce(function (so, row) { return Math.max(so, row.high === null ? row.value : row.high, row.value); }, 0) / u.factor;
    var ends = P.ticks(0, most || 1, 6);
    return { ticks: ends, end: ends[ends.length - 1] };
  }

  /** @param {any} s @param {(place: string, s?: any) => string} link @returns {string} the sentence */
  function show(s, link) {
    var found = C.isUnread(s) ? { rows: [], left: [], best: [], note: '' } : Stillroom.published.rank(est, release, Stillroom.settings.asked(s, est));
    found.atFull = atFull(found, s);
    last = { settings: s, link: link, found: found };
    var words = sentence(found, s);
    P.say(at('headline'), words);
    P.say(at('told'), told(s));
    P.say(at('list-title'), C.isUnread(s) ? 'Airflow through your own resistance, not told yet' : 'Airflow ' + C.through(s, est));
    at('escape').hidden = !found.atFull;
    at('list-note').hidden = !found.rows.length;
    P.set(at('as-bars'), 'aria-pressed', String(!s.table));
    P.set(at('as-table'), 'aria-pressed', String(s.table));
    at('bars').hidden = s.table || !found.rows.length;
    at('table').hidden = !s.table || !found.rows.length;
    var shown = chosen(found.rows);
    if (s.table) table(found, shown, s, link);
    else bars(found, shown, s, link);
    more(found.rows.length, shown.length);
    left(found.left);
    note(s);
    P.say(at('list-source'), found.rows.length ? found.note : '');
    Stillroom.sounds(at('listen'), shown.map(function (each) { return each.fan; }), 5);
    return words;
  }

  /** The rows that are shown: the first, and the fan under review wherever it stands. @param {any[]} rows */
  function chosen(rows) {
    if (isAll || rows.length <= FEW) return rows;
    return rows.filter(function (row, place) { return place < FEW || est.fans[row.fan].name === release.highlight; });
  }

  /** What holds besides, for the eye and for print. @param {any} s */
  function told(s) {
    var obstacle = s.own ? null : Stillroom.settings.named(est, s.through);
    var parts = [s.size ? W.withUnit(String(s.size), 'mm') + ' fans' : '', obstacle && obstacle.told || ''].filter(Boolean);
    if (!s.full && C.distance(est)) parts.push((s.fans > 1 ? 'level of all together ' : 'level ') + 'at ' + C.distance(est));
    if (s.ceiling !== null) parts.push('up to ' + W.number(s.ceiling, Number.isInteger(s.ceiling) ? 0 : 2) + ' ' + (at('currency').textContent || ''));
    if (s.only.trim()) parts.push('only names with ' + s.only.trim());
    return parts.length ? W.stopped(parts.join('; ')) : '';
  }

  // --- bars --------------------------------------------------------------------------------------------------

  /** @param {any} found @param {any[]} shown @param {any} s @param {any} link */
  function bars(found, shown, s, link) {
    var u = C.unit(s, release, 'flow');
    var on = scale(found.rows, u);
    axis(on, u);
    marksAt = [];
    /** @type {string[]} */ var notes = [];
    var list = at('rows');
    var said = link('', s).slice(1);
    list.classList.toggle('is-long', shown.length > 3 * FEW);
    var before = null;
    shown.forEach(function (row) {
      var one = kept[row.fan] || (kept[row.fan] = made(row.fan));
      update(one, row, found, u, on, said, notes);
      var wanted = before ? before.nextSibling : list.firstChild;
      if (one.node !== wanted) list.insertBefore(one.node, wanted);
      before = one.node;
    });
    while (before ? before.nextSibling : list.firstChild) list.removeChild(before ? before.nextSibling : list.firstChild);
    footnotes(notes);
  }

  /** @param {number} index */
  function made(index) {
    var fan = est.fans[index];
    var one = /** @type {any} */ ({ ticks: '' });
    one.grid = P.svg('g', { class: 'grid' });
    one.bar = P.svg('rect', { x: 0, y: 6, height: 16, class: 'bar' });
    one.whisker = ['halo', 'whisker'].map(function (kind) {
      return [P.svg('line', { y1: 14, y2: 14, class: kind }), P.svg('line', { y1: 9, y2: 19, class: kind }),
        P.svg('line', { y1: 9, y2: 19, class: kind })];
    });
    one.drawing = P.fill(P.svg('svg', { class: 'track', 'aria-hidden': 'true', focusable: 'false' }), {},
      [one.grid, one.bar].concat(one.whisker[0], one.whisker[1]));
    one.name = P.el('a', { class: 'name' }, P.el('bdi', {}, fan.name));
    one.sign = P.el('sup', { 'aria-hidden': 'true' });
    one.who = P.el('span', { class: 'who' });
    one.value = P.el('span', { class: 'value' });
    one.range = P.el('span', { class: 'range' });
    one.verdict = P.el('a', { class: 'verdict' });
    one.how = P.el('span', { class: 'how' });
    one.marks = P.el('span', { class: 'unseen' });
    one.node = P.el('li', {}, P.el('span', { class: 'names' }, one.name, one.sign, one.who), one.drawing,
      P.el('span', { class: 'values' }, one.value, ' ', one.range), P.el('span', { class: 'words' }, one.verdict, ' ', one.how), one.marks);
    return one;
  }

  /** @param {any} one @param {any} row @param {any} found @param {any} u @param {any} on @param {string} said the settings in a link @param {string[]} notes */
  function update(one, row, found, u, on, said, notes) {
    var fan = est.fans[row.fan];
    var word = verdict(row, found);
    var name = encodeURIComponent(fan.name);
    var leader = found.rows[0].fan === row.fan ? (found.rows[1] || row).fan : found.rows[0].fan;
    P.set(one.node, 'class', 'row' + (word === TIED || word === ALONE ? ' is-tied' : '') + (fan.name === release.highlight ? ' is-accent' : ''));
    P.set(one.name, 'href', '#fan/' + name + said);
    P.set(one.verdict, 'href', '#compare/' + name + '/' + encodeURIComponent(est.fans[leader].name) + said);
    P.say(one.verdict, word);
    P.say(one.value, C.value(row, u));
    P.say(one.range, C.interval(row.low, row.high, u));
    P.say(one.how, row.how);
    var inline = row.marks.filter(function (/** @type {string} */ mark) { return INLINE.test(mark); });
    P.say(one.who, [fan.maker, fan.price ? C.price(fan.price) : ''].concat(inline).filter(Boolean).join(' · '));
    var signs = numbered(row.marks.filter(function (/** @type {string} */ mark) { return !INLINE.test(mark); }), notes);
    P.say(one.sign, signs.join(' '));
    P.say(one.marks, signs.length ? row.marks.join('; ') : '');
    draw(one, row, u, on);
  }

  /** The numbers of marks among the notes beneath, to which new ones are added. @param {string[]} marks @param {string[]} notes @returns {number[]} */
  function numbered(marks, notes) {
    return marks.map(function (mark) {
      if (notes.indexOf(mark) < 0) notes.push(mark);
      return notes.indexOf(mark) + 1;
    }).sort(function (a, b) { return a - b; });
  }

  /** @param {any} one @param {any} row @param {any} u @param {any} on */
  function draw(one, row, u, on) {
    /** @param {number} value */
    function x(value) { return Math.max(0, Math.min(100, value / u.factor / on.end * 100)).toFixed(2) + '%'; }
    P.set(one.bar, 'width', x(row.value));
    var low = row.low === null ? row.value : row.low;
    var high = row.high === null ? row.value : row.high;
    one.whisker.forEach(function (/** @type {any[]} */ lines) {
      P.set(lines[0], 'x1', x(low)); P.set(lines[0], 'x2', x(high));
      P.set(lines[1], 'x1', x(low)); P.set(lines[1], 'x2', x(low));
      P.set(lines[2], 'x1', x(high)); P.set(lines[2], 'x2', x(high));
    });
    var ticks = on.ticks.join();
    if (one.ticks === ticks) return;
    one.ticks = ticks;
    P.put(one.grid);
    P.fill(one.grid, {}, on.ticks.map(function (/** @type {number} */ tick) {
      var place = (tick / on.end * 100).toFixed(2) + '%';
      return P.svg('line', { x1: place, x2: place, y1: 0, y2: 28 });
    }));
  }

  /** @param {any} on @param {any} u */
  function axis(on, u) {
    P.say(at('cue'), u.symbol + ', longer is better');
    var words = P.tickWords(on.ticks);
    if (at('axis-slot').dataset.told === words.join()) return;
    at('axis-slot').dataset.told = words.join();
    P.put(at('axis-slot'), P.fill(P.svg('svg', { class: 'ticks', focusable: 'false' }), {}, on.ticks.map(function (/** @type {number} */ tick, /** @type {number} */ place) {
      var anchor = place === 0 ? 'start' : place === on.ticks.length - 1 ? 'end' : 'middle';
      return P.svg('text', { x: (tick / on.end * 100).toFixed(2) + '%', y: 15, 'text-anchor': anchor }, words[place]);
    })));
  }

  /** @param {string[]} notes */
  function footnotes(notes) {
    var told = notes.join('\n');
    if (at('notes').dataset.told === told) return;
    at('notes').dataset.told = told;
    P.put(at('notes'), notes.length ? P.fill(P.el('ol', {}), {}, notes.map(function (each) { return P.fill(P.el('li', {}), {}, C.explained(each, release)); })) : null);
  }

  // --- the table, and who isn't in it ----------------------------------------------------------------------

  /** @param {any} found @param {any[]} shown @param {any} s @param {any} link */
  function table(found, shown, s, link) {
    var u = C.unit(s, release, 'flow');
    /** @type {string[]} */ var notes = [];
    P.put(at('table'), P.table(C.whole(s, est), ['Fan', 'Airflow, ' + u.symbol, '95 % interval', 'Verdict', 'Places',
      'How', 'Speed', 'Price', 'Samples', 'Mountings', 'Notes'], shown.map(function (row) {
      var fan = est.fans[row.fan];
      return [P.el('a', { href: link('fan/' + encodeURIComponent(fan.name), s) }, P.el('bdi', {}, fan.name)),
        C.value(row, { symbol: '', factor: u.factor }),
        C.interval(row.low, row.high, u), verdict(row, found), W.places(row.rank), row.how, C.rpm(row.speed),
        fan.price ? C.price(fan.price) : '', String(fan.samples), String(fan.mountings), numbered(row.marks, notes).join(', ')];
    }), [1, 2, 4, 6, 7, 8, 9]));
    footnotes(notes);
  }

  /** @param {number} all @param {number} shown */
  function more(all, shown) {
    at('more-rows').hidden = all <= FEW;
    P.say(at('all'), isAll ? 'Show the first ' + FEW : 'Show all ' + all + ' fans');
    if (!isAll && shown > FEW) P.say(at('all'), 'Show all ' + all + ' fans, not the first ' + FEW + ' and ' + release.highlight);
  }

  /** @param {any[]} gone */
  function left(gone) {
    /** @type {Object<string, string[]>} */ var by = {};
    gone.forEach(function (each) { (by[each.why] = by[each.why] || []).push(each.name || est.fans[each.fan].name); });
    var told = JSON.stringify(by);
    if (at('left').dataset.told === told) return;
    at('left').dataset.told = told;
    var open = at('left').querySelector('details[open]') !== null || gone.length <= 5;
    P.put(at('left'), gone.length ? P.el('details', { class: 'left', open: open },
      P.el('summary', {}, 'Left out, or unknown here: ' + W.plural(gone.length, 'fan')),
      P.fill(P.el('ul', {}), {}, Object.keys(by).map(function (why) {
        return P.el('li', {}, W.listed(by[why]) + ': ' + why);
      }))) : null);
  }

  /** @param {any} s */
  function note(s) {
    var u = C.unit(s, release, 'flow');
    P.say(at('list-note'), 'Bars show the airflow, the thin line on each its 95 % interval. A gap under ' + C.margin(est, u) +
      ' counts as none. “Too close to call”: these measurements can’t tell the fan from the leader; choose it to see why.' +
      (s.fans > 1 && !s.full ? ' The noise limit holds for all fans together.' : ''));
  }

  return { start: start, show: show, sentence: sentence, TIED: TIED };
})();
