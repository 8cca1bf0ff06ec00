// Finds things by their words. What it shows it sets as text, never as markup; it loads and sends nothing.
"use strict";
(function () {
  var words = typeof slipmarkWords === "undefined" ? null : slipmarkWords;
  var form = document.getElementById("search");
  var field = document.getElementById("q");
  var said = document.getElementById("said");
  var found = document.getElementById("found");
  if (!form || !field || !said || !found) return;
  if (!words) { said.textContent = "The words to search, words.js, could not be loaded."; return; }
  var MOST = 100;
  var up = form.getAttribute("action").replace(/search(\.html)?$/, "");

  function plain(text) {
    var folded = text.toLowerCase();
    return folded.normalize ? folded.normalize("NFKD").replace(/[\u0300-\u036f]/g, "") : folded;
  }
  var folded = words.map(function (own) {
    return { id: plain(own[1]), title: plain(own[3]), all: plain(own.slice(1).join(" ")) };
  });

  // Lower is nearer: the id itself, its start, its middle, the title, anything else.
  function distance(own, terms) {
    var sum = 0;
    for (var i = 0; i < terms.length; i++) {
      var term = terms[i];
      if (own.all.indexOf(term) < 0) return -1;
      var at = own.id.indexOf(term);
      sum += own.id === term ? 0 : at === 0 ? 1 : at > 0 ? 2 : own.title.indexOf(term) >= 0 ? 3 : 5;
    }
    return sum;
  }
  function line(own) {
    var item = document.createElement("li");
    var link = document.createElement("a");
    link.href = up + own[0];
    link.textContent = own[1];
    var rest = document.createElement("span");
    rest.textContent = " " + own[3] + " ";
    var aside = document.createElement("span");
    aside.className = "aside";
    aside.textContent = own[2] + (own[4] ? ", " + own[4] : "");
    item.append(link, rest, aside);
    return item;
  }
  function search() {
    var terms = plain(field.value).split(/\s+/).filter(Boolean);
    found.textContent = "";
    if (!terms.length) { said.textContent = words.length + " things can be found."; return; }
    var hits = [];
    for (var i = 0; i < words.length; i++) {
      var far = distance(folded[i], terms);
      if (far >= 0) hits.push([far, i]);
    }
    hits.sort(function (a, b) { return a[0] - b[0] || a[1] - b[1]; });
    hits.slice(0, MOST).forEach(function (hit) { found.append(line(words[hit[1]])); });
    said.textContent = (hits.length === 0 ? "Nothing has all of these words." : hits.length === 1 ? "1 thing." : hits.length + " things.") +
      (hits.length > MOST ? " The nearest " + MOST + " are listed: say more to see others." : "");
  }
  var asked = new URLSearchParams(location.search).get("q");
  if (asked) field.value = asked;
  field.addEventListener("input", search);
  form.addEventListener("submit", function (event) {
    event.preventDefault();
    search();
    var first = found.querySelector("a");
    if (first) first.focus();
  });
  search();
  field.focus();
})();
