/** The known resistor as it was typed. It is the same one next time, so it is not asked for again. */
class CheckWork {
  resistor = $state('');
  tolerance = $state('');
}

export const checkWork = new CheckWork();
