/* Every word of the serial line between instrument and host, in one place for C, C++ and both ends.
 *
 * Macros, because a constant would take RAM on an 8-bit controller: wrap them in what keeps strings in flash there.
 * A message is one line that ends with a line feed; a carriage return before it is ignored. Words are in capitals, parameters
 * follow after one space, separated by commas. A word that ends with a question mark is answered by one line; others are not
 * answered.
 *
 * The common commands are those that IEEE 488.2-1992, 10, makes mandatory; their answers are those of that standard (this clause
 * and those below from memory). The rest is our own. */
#ifndef PLUMBLINE_EMBEDDED_WORDS_H
#define PLUMBLINE_EMBEDDED_WORDS_H

#define PLUMBLINE_WORD_CLEAR_STATUS "*CLS"
#define PLUMBLINE_WORD_EVENT_ENABLE "*ESE" /* 0 to 255 */
#define PLUMBLINE_WORD_EVENT_ENABLE_QUERY "*ESE?"
#define PLUMBLINE_WORD_EVENT_QUERY "*ESR?"    /* clears what it answers */
#define PLUMBLINE_WORD_IDENTIFY_QUERY "*IDN?" /* maker,model,serial number,firmware */
#define PLUMBLINE_WORD_OPERATION_COMPLETE "*OPC"
#define PLUMBLINE_WORD_OPERATION_COMPLETE_QUERY "*OPC?" /* 1 */
#define PLUMBLINE_WORD_RESET "*RST"
#define PLUMBLINE_WORD_SERVICE_ENABLE "*SRE" /* 0 to 255 */
#define PLUMBLINE_WORD_SERVICE_ENABLE_QUERY "*SRE?"
#define PLUMBLINE_WORD_STATUS_QUERY "*STB?"
#define PLUMBLINE_WORD_SELF_TEST_QUERY "*TST?" /* 0: nothing wrong found */
#define PLUMBLINE_WORD_WAIT "*WAI"

/* ADJUSTMENT <block>     stores an image; one that is refused changes nothing and sets the execution error
 * ADJUSTMENT?            the stored image as a block; an empty block #10 if there is none
 * READ? channel,range    microvolts,plus-or-minus in microvolts,status: an integer each; status as in reading.hpp
 * CODES? channel,range,n a block of n raw codes, two bytes each, the lower one first
 * WEAR?                  erases of the more worn slot
 * FAULT?                 last reason why an image was refused: image_fault of image.hpp; 50 if it is that of another
 *                        instrument; 100 + save_result of store.hpp; 0 for none
 * A message that is none of these, a word with too many or too few parameters, and a block that is larger than an image, is
 * followed by anything but the end of the line, or stops coming for some seconds, sets the command error. */
#define PLUMBLINE_WORD_ADJUSTMENT "ADJUSTMENT"
#define PLUMBLINE_WORD_ADJUSTMENT_QUERY "ADJUSTMENT?"
#define PLUMBLINE_WORD_READ_QUERY "READ?"
#define PLUMBLINE_WORD_CODES_QUERY "CODES?"
#define PLUMBLINE_WORD_WEAR_QUERY "WEAR?"
#define PLUMBLINE_WORD_FAULT_QUERY "FAULT?"

/* Bits of the standard event status register (IEEE 488.2-1992, 11.5.1) that an instrument of this project uses. */
#define PLUMBLINE_EVENT_OPERATION_COMPLETE 0x01
#define PLUMBLINE_EVENT_EXECUTION_ERROR 0x10
#define PLUMBLINE_EVENT_COMMAND_ERROR 0x20
#define PLUMBLINE_EVENT_POWER_ON 0x80

/* Bits of the status byte (IEEE 488.2-1992, 11.2). */
#define PLUMBLINE_STATUS_EVENT 0x20
#define PLUMBLINE_STATUS_SERVICE 0x40

#endif
