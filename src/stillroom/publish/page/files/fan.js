// One fan: what it does under the reader's settings, where it stands, its curves, its box, what was said of it.
'use strict';

Stillroom.fan = (function () {
  var P = Stillroom.parts;
  var W = Stillroom.words;
  var C = Stillroom.conditions;
  var FEW = 2;
  /** @type {Object<number, any>} */ var loaded = {};
  /** @type {Object<number, Array<(fan: any) => void>>} */ var waiting = {};

  window.stillroomFan = function (/** @type {number} */ index, /** @type {any} */ fan) {
    loaded[index] = fan;
    (waiting[index] || []).forEach(function (then) { then(fan); });
    delete waiting[index];
  };

  /** Load a fan's file, once. Only a name of the release's own list gets into an address. @param {any} known @param {(fan: any) => void} then */
  function load(known, then) {
    if (loaded[known.index]) { then(loaded[known.index]); return; }
    if (waiting[known.index]) { waiting[known.index].push(then); return; }
    waiting[known.index] = [then];
    var script = document.createElement('script');
    script.src = 'fans/' + known.index + '.js';
    script.onerror = function () {
      waiting[known.index].forEach(function (each) { each(null); });
      delete waiting[known.index];
      script.remove();
    };
    document.head.appendChild(script);
  }

  /**
   * Show a fan's page.
   * @param {any} known the fan as the estimate lists it @param {any} s @param {any} est @param {any} release @param {any} link
   */
  function show(known, s, est, release, link) {
    var view = /** @type {any} */ (document.getElementById('view-fan'));
    var wanted = String(known.index) + '|' + Stillroom.drawing.wide() + '|' + link('', s);
    if (view.dataset.told === wanted) return;
    view.dataset.told = wanted;
    var open = Array.prototype.map.call(view.querySelectorAll('details'), function (each) { return each.open; });
    var top = P.el('div', {});
    if (view.dataset.fan !== String(known.index)) P.put(view, head(known, s, link), top);
    else while (view.childNodes.length > 2) view.removeChild(view.lastChild);
    view.dataset.fan = String(known.index);
    P.set(view.querySelector('.back a'), 'href', link('choose', s));
    view.setAttribute('aria-busy', 'true');
    load(known, function (fan) {
      if (view.dataset.told !== wanted) return;
      view.removeAttribute('aria-busy');
      if (fan && top.parentNode) P.fill(top, {}, (fan.disputes || []).map(disputed));
      P.fill(view, {}, fan ? sections(known, fan, s, est, release, link) : [P.el('p', { class: 'wrong' }, 'This fan’s file could not be opened: fans/' + known.index + '.js')]);
      Array.prototype.forEach.call(view.querySelectorAll('details'), function (each, at) { if (open[at]) each.open = true; });
    });
  }

  /** @param {any} known @param {any} s @param {any} link */
  function head(known, s, link) {
    var facts = [known.maker, known.size ? W.withUnit(String(known.size) + (known.thickness ? ' × ' + known.thickness : ''), 'mm') : '',
      known.price ? C.price(known.price) + ([known.price.region && ' in ' + known.price.region, known.price.date && ' on ' + known.price.date].filter(Boolean).join('')) : '',
      W.plural(known.samples, 'sample') + ', ' + W.plural(known.mountings, 'mounting')].filter(Boolean);
    return P.el('div', { class: 'answer' }, P.el('p', { class: 'back' }, P.el('a', { href: link('choose', s) }, 'Back to the ranking')),
      P.el('h1', { id: 'fan-title', tabindex: '-1' }, P.el('bdi', {}, known.name)), P.el('p', { class: 'muted' }, facts.join(' · ')));
  }

  /** @param {any} each */
  function disputed(each) {
    return P.el('div', { class: 'notice', role: 'note' }, P.el('strong', {}, each.settled ? 'Disputed, settled: ' + each.settled : 'Under dispute'),
      P.el('p', {}, 'Since ' + each.since + (each.by ? ', by ' + each.by : '') + (each.measure ? ', about ' + each.measure : ', about all numbers of this fan') + ': “' + each.text + '”'),
      each.reply ? P.el('p', {}, 'The laboratory' + (each.date ? ' on ' + each.date : '') + ': “' + each.reply + '”') : P.el('p', {}, 'The laboratory has not replied yet.'));
  }

  /** @param {any} known @param {any} fan @param {any} s @param {any} est @param {any} release @param {any} link */
  function sections(known, fan, s, est, release, link) {
    var found = Stillroom.published.rank(est, release, Stillroom.settings.asked(Object.assign({}, s, { only: '', ceiling: null, size: known.size }), est));
    var row = found.rows.filter(function (/** @type {any} */ each) { return each.fan === known.index; })[0] || null;
    var gone = found.left.filter(function (/** @type {any} */ each) { return each.fan === known.index; })[0];
    return [
      section('As you asked', 'asked', now(known, row, gone, found, s, est, release, link)),
      section('In words', 'words', words(fan, known, release)),
      section('Pressure and airflow', 'pq', Stillroom.curves.pressure(fan, s, est, release, row)),
      section('Sound', 'sound', P.el('div', {}, Stillroom.curves.level(fan, s), heard(known))),
      section('Heat', 'heat', Stillroom.curves.heat(fan)),
      section('Control', 'control', Stillroom.curves.response(fan)),
      section('What the box says', 'box', claims(fan)),
      section('Where it stands in this release', 'stands', standings(fan, s, release))
    ];
  }

  /** @param {string} title @param {string} id @param {any} content */
  function section(title, id, content) {
    return P.el('section', { class: 'part', 'aria-labelledby': 'part-' + id }, P.el('h2', { id: 'part-' + id }, title), content);
  }

  /** What the release's lookup says of this fan under the reader's settings. */
  function now(/** @type {any} */ known, /** @type {any} */ row, /** @type {any} */ gone, /** @type {any} */ found, /** @type {any} */ s, /** @type {any} */ est, /** @type {any} */ release, /** @type {any} */ link) {
    var where = C.whole(s, est);
    if (!row) return P.el('p', {}, where + ' ', P.el('em', {}, 'unknown'), ': ' + (gone ? gone.why : 'not measured') + '.');
    var u = C.unit(s, release, 'flow');
    var leader = found.rows[0];
    var other = leader.fan === known.index ? found.rows[1] : leader;
    var place = !row.rank ? 'without a place' : row.rank[0] !== row.rank[1] ? 'places ' + W.places(row.rank) : 'place ' + W.places(row.rank);
    var verdict = row.verdict === 'not judged' ? 'not judged' : row.verdict === 'behind' ? 'behind ' + W.isolate(est.fans[leader.fan].name) : found.best.length > 1 ? 'too close to call among ' + W.plural(found.best.length, 'fan') : 'ahead of all';
    return P.el('div', {}, P.el('p', { class: 'lead' }, where + ' it moves ', P.el('strong', {}, C.value(row, u)),
      ' (95 %: ' + C.interval(row.low, row.high, u) + ') at ' + C.rpm(row.speed) + ', ', P.el('em', {}, row.how), '. It is ' + verdict + ', ' + place + ' of ' + found.rows.length + '.'), P.el('p', { class: 'small muted' }, found.note),
      row.marks.length ? P.fill(P.el('ul', { class: 'marks' }), {}, row.marks.map(function (/** @type {string} */ each) { return P.fill(P.el('li', {}), {}, C.explained(each, release)); })) : null,
      other ? P.el('p', {}, P.el('a', { class: 'act', href: link('compare/' + encodeURIComponent(known.name) + '/' + encodeURIComponent(est.fans[other.fan].name), s) },
        'Is its gap to ' + W.isolate(est.fans[other.fan].name) + ' real?')) : null);
  }

  /** @param {any} fan @param {any} known @param {any} release */
  function words(fan, known, release) {
    var said = (fan.words || []).map(function (/** @type {any} */ each, /** @type {number} */ place) {
      var texts = each.texts.map(function (/** @type {string} */ text) { return P.el('p', {}, text); });
      if (!each.title) return P.fill(P.el('div', {}), {}, texts);
      return P.fill(P.el('details', { open: place < FEW }, P.el('summary', {}, each.title)), {}, texts);
    });
    var marks = known.marks || [];
    if (marks.length) said.push(P.el('p', {}, 'Beside its numbers:'), P.fill(P.el('ul', { class: 'marks' }), {}, marks.map(function (/** @type {string} */ each) {
      return P.fill(P.el('li', {}), {}, C.explained(each, release));
    })));
    return P.fill(P.el('div', { class: 'prose' }), {}, said.length ? said : [P.el('p', {}, 'This release says no sentence about it.')]);
  }

  /** @param {any} known */
  function heard(known) {
    var place = P.el('div', {});
    Stillroom.sounds(place, [known.index], 1);
    return place;
  }

  /** @param {any} fan */
  function claims(fan) {
    if (!fan.claims.length) return P.el('p', {}, 'No claim of its box is known.');
    return P.table('What the box says, and what was measured', ['Quantity', 'Printed', 'Condition', 'Measured', '95 % interval', 'Verdict'],
      fan.claims.map(function (/** @type {any} */ each) { return [each.quantity, each.printed, each.condition || 'not printed', each.measured || 'unknown', each.interval, each.words]; }), [1, 3, 4], 5);
  }

  /** @param {any} fan @param {any} s @param {any} release */
  function standings(fan, s, release) {
    if (!fan.standings.length) return P.el('p', {}, 'It stands in no published ranking.');
    return P.table('Its place in each published ranking', ['Measure', 'Value', '95 % interval', 'Verdict', 'Places', 'How', 'Rests on', 'Marks'],
      fan.standings.map(function (/** @type {any} */ each) {
        if (each.why) return [each.title, 'unknown', '', '', '', '', '', each.why];
        var u = shownUnit(each, s, release);
        var bound = each.bound && each.bound !== 'range' ? each.bound + ' ' : '';
        var f = u.factor;
        var value = each.ends ? W.bare(each.ends[0] * f) + ' to ' + W.withUnit(W.bare(each.ends[1] * f), u.symbol) : bound + W.withUnit(W.rounded(each.value * f, by(each.low, f), by(each.high, f)), u.symbol);
        return [each.title, value, W.interval(by(each.low, f), by(each.high, f)), each.verdict, W.places(each.rank) + (each.rank ? ' of ' + each.of : ''),
          each.how, each.basis, each.marks.join('; ')];
      }), [1, 2, 4], 7);
  }

  /** @param {number|null} value @param {number} factor */
  function by(value, factor) { return value === null ? null : value * factor; }

  /** A published value's unit as the reader reads it: flows and pressures in the chosen one. @param {any} each @param {any} s @param {any} release */
  function shownUnit(each, s, release) {
    var kinds = ['flow', 'pressure'];
    for (var at = 0; at < kinds.length; at += 1) {
      var own = release.units[kinds[at]].filter(function (/** @type {any} */ u) { return u.symbol === each.unit; })[0];
      if (own) {
        var chosen = C.unit(s, release, kinds[at]);
        return { symbol: chosen.symbol, factor: own.factor / chosen.factor };
      }
    }
    return { symbol: each.unit, factor: 1 };
  }

  return { show: show, load: load };
})();
