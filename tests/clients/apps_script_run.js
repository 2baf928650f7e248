// Runs a script for a spreadsheet under Node, with a stand-in for its host's way to fetch addresses.
//   node apps_script_run.js SCRIPT ADDRESS < calls.json      (a list of argument lists)
'use strict';
const {execFileSync} = require('child_process');
const fs = require('fs');
const vm = require('vm');

const [script, address] = process.argv.slice(2);
const asked = [];
const UrlFetchApp = {
  fetch(url, options) {
    if (Object.keys(options).join() !== 'muteHttpExceptions' || options.muteHttpExceptions !== true) {
      throw new Error('not a plain GET');
    }
    asked.push(url);
    const said = execFileSync('curl', ['-sS', '-w', '\n%{http_code}', url.replace('https://velamen.example', address)], {encoding: 'utf8'});
    const end = said.lastIndexOf('\n');
    return {getContentText: () => said.slice(0, end), getResponseCode: () => Number(said.slice(end + 1))};
  }
};
const context = vm.createContext({UrlFetchApp});
vm.runInContext(fs.readFileSync(script, 'utf8'), context);
const answers = JSON.parse(fs.readFileSync(0, 'utf8')).map(given => {
  try {
    return {value: context.DOSE_GRAMS(...given)};
  } catch (error) {
    return {error: error.message};
  }
});
process.stdout.write(JSON.stringify({answers, asked}));
