/**
 * Grams of a product for one can, as a function of a cell:
 *   =DOSE_GRAMS("feed_15_5_15_ca_mg", "rain", 10, 60, 22)
 *
 * The script runs on machines of the spreadsheet's host: the service needs an address that they reach.
 *
 * @param {string} product key of a product
 * @param {string} water key of a water
 * @param {number} litres volume of the can
 * @param {number} humidity relative humidity, percent
 * @param {number} temperature air temperature, degrees Celsius
 * @return {number} grams to weigh in
 * @customfunction
 */
function DOSE_GRAMS(product, water, litres, humidity, temperature) {
  var address = 'https://velamen.example';
  var query = {
    'fields': 'status,product_mass_g',
    'product': product,
    'water': water,
    'plants.size': 'large',
    'volume_l': litres,
    'air.humidity_percent': humidity,
    'air.temperature_celsius': temperature
  };
  var url = address + '/v1/doses?' + Object.keys(query).map(function (name) {
    return name + '=' + encodeURIComponent(query[name]);
  }).join('&');
  var response = UrlFetchApp.fetch(url, {muteHttpExceptions: true});
  var answer = JSON.parse(response.getContentText());
  if (response.getResponseCode() !== 200) {
    throw new Error(answer.detail);
  }
  if (answer.status !== 'ok' || answer.product_mass_g === null) {
    throw new Error('No dose: ' + answer.status);
  }
  return answer.product_mass_g;
}
