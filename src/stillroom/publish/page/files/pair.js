// Two fans: is that gap real, would one notice it, and what would settle it?
'use strict';

Stillroom.pair = (function () {
  var P = Stillroom.parts;
  var W = Stillroom.words;
  var C = Stillroom.conditions;
  
  /**
   * @param {any|null} one @param {any|null} two fans of the estimate @param {any} s @param {any} est @param {any} release
   * @param {any} link @param {(one: string, two: string) => void} choose
   */
  function show(one, two, s, est, release, link, choose) {
    var view = /** @type {any} */ (document.getElementById('view-pair'));
    if (!view.firstChild) P.fill(view, {}, frame(est, choose, s, link));
    var first = /** @type {any} */ (document.getElementById('pair-one'));
    var second = /** @type {any} */ (document.getElementById('pair-two'));
    first.value = one ? one.name : '';
    second.value = two ? two.name : '';
    P.set(/** @type {any} */ (document.getElementById('pair-back')), 'href', link('choose', s));
    var place = /** @type {any} */ (document.getElementById('pair-answer'));
    var wanted = place.dataset.told = [one && one.name, two && two.name, link('', s)].join('|');
    if (one && two && one !== two) whole(one, two, s, est, release, link, function (node) { if (place.dataset.told === wanted) P.put(place, node); });
    else P.put(place, P.el('p', {}, one && one === two ? 'Choose two different fans.' : 'Choose two fans: the answer holds under the settings of the ranking.'));
  }

  /** The answer, once the file is there that holds the published pair. */
  function whole(/** @type {any} */ one, /** @type {any} */ two, /** @type {any} */ s, /** @type {any} */ est, /** @type {any} */ release, /** @type {any} */ link, /** @type {(node: any) => void} */ put) {
    var found = Stillroom.published.rank(est, release, asked(one, s, est));
    var upper = found.own && one.size === two.size ? Stillroom.published.higher(found.own, one, two) : null;
    if (!upper) { put(answer(one, two, s, est, release, link, found, null)); return; }
    Stillroom.fan.load(upper, function (/** @type {any} */ file) {
      if (!file) { put(P.el('p', { class: 'wrong' }, 'This fan’s file could not be opened: fans/' + upper.index + '.js')); return; }
      put(answer(one, two, s, est, release, link, found, Stillroom.published.pair(found.own, one, two, file, est)));
    });
  }

  /** @param {any} one @param {any} s @param {any} est */
  function asked(one, s, est) { return Stillroom.settings.asked(Object.assign({}, s, { size: one.size, only: '', ceiling: null }), est); }

  /** @param {any} est @param {any} choose @param {any} s @param {any} link */
  function frame(est, choose, s, link) {
    /** @param {string} id @param {string} words */
    function select(id, words) {
      var names = est.fans.map(function (/** @type {any} */ each) { return each.name; }).sort(function (/** @type {string} */ a, /** @type {string} */ b) { return a.localeCompare(b); });
      var node = P.fill(P.el('select', { id: id, onchange: told }), {}, [P.el('option', { value: '' }, 'choose a fan')].concat(names.map(function (/** @type {string} */ each) { return P.el('option', { value: each }, each); })));
      return P.el('div', {}, P.el('label', { for: id }, words), node);
    }
    function told() {
      choose(/** @type {any} */ (document.getElementById('pair-one')).value, /** @type {any} */ (document.getElementById('pair-two')).value);
    }
    return [P.el('div', { class: 'answer' }, P.el('p', { class: 'back' }, P.el('a', { id: 'pair-back', href: link('choose', s) }, 'Back to the ranking')),
      P.el('h1', { id: 'pair-title', tabindex: '-1' }, 'Is that gap real?')),
    P.el('form', { class: 'two', 'aria-label': 'Two fans', onsubmit: function (/** @type {Event} */ e) { e.preventDefault(); } }, select('pair-one', 'This fan'), select('pair-two', 'and this one')),
    P.el('div', { id: 'pair-answer' })];
  }

  /** The answer in one sentence. @param {any} pair @param {any} one @param {any} two @param {any} s @param {any} est @param {any} u */
  function sentence(pair, one, two, s, est, u) {
    var where = C.whole(s, est);
    var a = W.isolate(one.name);
    var b = W.isolate(two.name);
    var more = pair.difference >= 0 ? 'more' : 'less';
    var ends = [pair.low, pair.high].filter(function (each) { return each !== null; }).map(Math.abs);
    var isWhole = ends.length === 2;
    var size = C.shown(Math.abs(pair.difference), isWhole ? Math.min(ends[0], ends[1]) : null, isWhole ? Math.max(ends[0], ends[1]) : null, u);
    if (pair.verdict === 'too close') return where + ' ' + a + ' and ' + b + ' are too close to call.';
    return where + ' ' + (pair.verdict === 'ahead' ? a + ' is ahead of ' + b : a + ' is behind ' + b) + ': ' + size + ' ' + more + '.';
  }

  /** @param {any} one @param {any} two @param {any} s @param {any} est @param {any} release @param {any} link @param {any} found @param {any} own the published pair, or null */
  function answer(one, two, s, est, release, link, found, own) {
    var u = C.unit(s, release, 'flow');
    if (one.size !== two.size) return P.el('p', {}, 'They are of different sizes, ' + one.size + ' and ' + two.size + '\u00a0mm: their airflow isn’t compared.');
    var rows = [one, two].map(function (fan) { return found.rows.filter(function (/** @type {any} */ each) { return each.fan === fan.index; })[0]; });
    var pair = rows[0] && rows[1] ? own || est.pair(one.index, two.index, asked(one, s, est)) : null;
    if (!pair || pair.difference === null) return unknown([one, two], rows, found, C.whole(s, est));
    var facts = [
      ['Difference, ' + u.symbol, C.shown(pair.difference, pair.low, pair.high, { symbol: '', factor: u.factor }), C.interval(pair.low, pair.high, u)],
      ['A gap that counts, from, ' + u.symbol, W.coarse(pair.margin / u.factor), '']];
    return P.el('div', {}, P.el('h2', { class: 'answer-line', id: 'pair-sentence' }, sentence(pair, one, two, s, est, u)),
      P.el('p', {}, pair.words, ' ', pair.further),
      gap(pair, one, two, u), P.table('The gap', ['Quantity', 'Value', '95 % interval'], facts, [1, 2]),
      P.el('p', { class: 'small muted', id: 'pair-source' }, own || !found.own ? found.note : Stillroom.published.LOOKED_UP),
      P.table('The two fans under these settings', ['Quantity', one.name, two.name], [
        ['Airflow'].concat(rows.map(function (/** @type {any} */ r) { return C.value(r, u) + ' (' + C.interval(r.low, r.high, u) + ')'; })),
        ['How it is known'].concat(rows.map(function (/** @type {any} */ r) { return r.how; })),
        ['Speed'].concat(rows.map(function (/** @type {any} */ r) { return C.rpm(r.speed); })),
        ['Places'].concat(rows.map(function (/** @type {any} */ r) { return W.places(r.rank) + ' of ' + found.rows.length; })),
        ['Price'].concat([one, two].map(function (fan) { return C.price(fan.price); })),
        ['Rests on'].concat([one, two].map(function (fan) { return W.plural(fan.samples, 'sample') + ', ' + W.plural(fan.mountings, 'mounting'); })),
        ['Marks'].concat(rows.map(function (/** @type {any} */ r) { return r.marks.join('; ') || 'none'; }))
      ], []), P.el('p', { class: 'acts' }, P.el('a', { class: 'act', href: link('fan/' + encodeURIComponent(one.name), s) }, 'More about ' + W.isolate(one.name)), ' ',
        P.el('a', { class: 'act', href: link('fan/' + encodeURIComponent(two.name), s) }, 'More about ' + W.isolate(two.name))), listen(one, two));
  }

  /** @param {any} one @param {any} two */
  function listen(one, two) {
    var place = P.el('div', {});
    Stillroom.sounds(place, [one.index, two.index], 2);
    return place;
  }

  /** @param {any[]} fans @param {any[]} rows @param {any} found @param {string} where */
  function unknown(fans, rows, found, where) {
    var said = fans.filter(function (_, at) { return !rows[at]; }).map(function (fan) {
      var gone = found.left.filter(function (/** @type {any} */ each) { return each.fan === fan.index; })[0];
      return P.el('li', {}, W.isolate(fan.name) + ': ' + (gone ? gone.why : 'not measured'));
    });
    return P.el('div', {}, P.el('p', { class: 'lead' }, where + ' the answer is ', P.el('em', {}, 'unknown'), '.'), P.fill(P.el('ul', {}), {}, said));
  }

  /** The difference on its own scale, with the band in which a gap counts as none. @param {any} pair @param {any} one @param {any} two @param {any} u */
  function gap(pair, one, two, u) {
    var far = Math.max(Math.abs(pair.low || 0), Math.abs(pair.high || 0), Math.abs(pair.difference), pair.margin) * 1.15 / u.factor;
    var ticks = P.ticks(-far, far, 6);
    var end = Math.max(-ticks[0], ticks[ticks.length - 1]);
    /** @param {number} value in the unit shown */
    function x(value) { return (50 + value / end * 46).toFixed(2) + '%'; }
    var words = P.tickWords(ticks);
    var d = pair.difference / u.factor;
    var low = pair.low === null ? -end : pair.low / u.factor;
    var high = pair.high === null ? end : pair.high / u.factor;
    var margin = pair.margin / u.factor;
    var alt = 'Difference ' + C.shown(pair.difference, pair.low, pair.high, u) + ', 95 % interval ' + C.interval(pair.low, pair.high, u) + '; gaps within ' + W.coarse(margin) + ' count as none.';
    return P.el('div', { class: 'gap' },
      P.el('p', { class: 'ends', 'aria-hidden': 'true' }, P.el('span', {}, '← ' + W.isolate(two.name) + ' moves more'), P.el('span', {}, W.isolate(one.name) + ' moves more →')),
      P.svg('svg', { class: 'gap-track', role: 'img', 'aria-label': alt, focusable: 'false' },
        P.svg('rect', { class: 'none', x: x(-margin), width: (margin / end * 92).toFixed(2) + '%', y: 8, height: 44 }),
        P.svg('line', { class: 'nought', x1: '50%', x2: '50%', y1: 4, y2: 56 }),
        P.svg('line', { class: 'whisker', x1: x(low), x2: x(high), y1: 30, y2: 30 }),
        P.svg('line', { class: 'whisker', x1: x(low), x2: x(low), y1: 23, y2: 37 }),
        P.svg('line', { class: 'whisker', x1: x(high), x2: x(high), y1: 23, y2: 37 }),
        P.svg('circle', { cx: x(d), cy: 30, r: 7 }),
        P.fill(P.svg('g', { class: 'ticks' }), {}, ticks.map(function (tick, at) { return P.svg('text', { x: x(tick), y: 76, 'text-anchor': 'middle' }, words[at]); }))),
      P.el('p', { class: 'small muted' }, 'Difference in ' + u.symbol + '; the grey band: a gap that counts as none.'));
  }

  return { show: show };
})();
